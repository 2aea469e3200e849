"""What the firm holds and can buy: products, supply options, stock items."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

CUT_LENGTH_STEP_MM = 100
CUT_LENGTH_LEAST_MM = 1000


class StockForm(StrEnum):
    """How a stock item lies in the yard."""

    ROLL = "roll"  # unopened, full width
    PART_ROLL = "part_roll"  # what is left on the core, full width
    OFFCUT = "offcut"  # a loose rectangle


class SupplyForm(StrEnum):
    """How a supplier sells."""

    ROLL = "roll"
    CUT_LENGTH = "cut_length"


@dataclass(frozen=True, slots=True)
class Product:
    """One grass.

    Parameters
    ----------
    code
        What people write on tags.
    description
        Free text.
    weight_g_m2
        Weight in grams per square metre; positive.
    """

    code: str
    description: str
    weight_g_m2: int


@dataclass(frozen=True, slots=True)
class SupplyOption:
    """One way to buy a product.

    Parameters
    ----------
    product, supplier
        Product code and supplier's name.
    form
        Whole rolls, or lengths cut to order.
    width_mm
        Across the pile.
    length_mm
        A roll's length; for cut lengths the longest the supplier cuts.
    price_pence
        Of the whole roll, or per running metre.
    lead_days
        Calendar days from order to arrival; 0 or more.
    """

    product: str
    supplier: str
    form: SupplyForm
    width_mm: int
    length_mm: int
    price_pence: int
    lead_days: int

    def price_of(self, length_mm: int) -> int:
        """Price in pence of one purchase of the given length, rounded half up to the penny."""
        if self.form is SupplyForm.ROLL:
            return self.price_pence
        return (self.price_pence * length_mm + 500) // 1000

    def lengths(self) -> tuple[int, ...]:
        """Every length that can be bought in one purchase, mm, ascending."""
        if self.form is SupplyForm.ROLL:
            return (self.length_mm,)
        return tuple(range(CUT_LENGTH_LEAST_MM, self.length_mm + 1, CUT_LENGTH_STEP_MM))


def batch_key(batch: str, tag: str) -> str:
    """Batch as it is matched and shown: an unknown batch is a batch of its own.

    Parameters
    ----------
    batch
        Dye batch; empty when unknown.
    tag
        Of the thing that is of it.
    """
    return batch or f"unknown ({tag})"


@dataclass(frozen=True, slots=True)
class StockItem:
    """One thing in the yard with a tag of its own.

    Parameters
    ----------
    tag
        Unique in the yard.
    product
        Product code.
    batch
        Dye batch; empty when unknown, and then the item matches nothing but itself.
    form
        Roll, part roll or offcut.
    width_mm, length_mm
        Usable size across and along the pile, as measured; positive.
    bay
        Where it lies.
    cost_pence_per_m2
        What the firm paid per square metre; 0 or more.
    arrives_on
        The day it comes, for what is ordered and on its way: the tag is then the order's key, and only jobs laid
        after that day are cut from it. None, the default, for what lies in the yard.
    """

    tag: str
    product: str
    batch: str
    form: StockForm
    width_mm: int
    length_mm: int
    bay: str
    cost_pence_per_m2: int
    arrives_on: date | None = None

    @property
    def area_mm2(self) -> int:
        """Area in square millimetres."""
        return self.width_mm * self.length_mm

    @property
    def batch_key(self) -> str:
        """See `batch_key`."""
        return batch_key(self.batch, self.tag)
