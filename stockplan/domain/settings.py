"""The firm's settings: the one place that knows each setting's default, bounds, unit and reason.

A setting is stored as text under its name and read here into the frozen settings that the rest of the program works
with: `CostSettings`, `SurveySettings`, `LayoutSettings`, `TakeOffSettings` and `QuoteSettings`; defaults are their own.
Values are whole numbers of the unit in the name; where the unit is millimetres a length may be typed with its unit.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches

from stockplan.domain.layout import LayoutSettings
from stockplan.domain.materials import TakeOffSettings
from stockplan.domain.quote import MOST_WASTAGE_PERCENT, QuoteSettings
from stockplan.domain.request import CostSettings
from stockplan.domain.survey import SurveySettings
from stockplan.domain.units import parse_length
from stockplan.errors import SettingFaults, UnitError

CURRENCY, DEFAULT_CURRENCY = "currency", "GBP"

_UNITS = (  # endings of names, and what they count
    ("_kg_per_m3", "kg/m³"),
    ("_g_per_m2", "g/m²"),
    ("_mm_per_m", "mm/m"),
    ("_degrees", "degrees"),
    ("_one_in", "parts"),
    ("_m2", "m²"),
    ("_g_per_m", "g/m"),
    ("_pence_per_m", "pence/m"),
    ("_pence", "pence"),
    ("_percent", "%"),
    ("_pack", "pieces"),
    ("_mm", "mm"),
    ("_g", "g"),
)
Kind = type[CostSettings] | type[SurveySettings] | type[LayoutSettings] | type[TakeOffSettings] | type[QuoteSettings]
_CURRENCY = re.compile(r"[A-Z]{3}", re.ASCII)
_WHOLE = re.compile(r"\d{1,9}", re.ASCII)


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting whose value is a whole number.

    Parameters
    ----------
    name
        As it is typed and stored; its ending is its unit.
    default
        What holds where the firm has said nothing.
    least, most
        What is accepted.
    reason
        Why the default is what it is.
    """

    name: str
    default: int
    least: int
    most: int
    reason: str

    @property
    def unit(self) -> str:
        """What the number counts."""
        return next(unit for ending, unit in _UNITS if self.name.endswith(ending))

    @property
    def bounds(self) -> str:
        """What is accepted, in words."""
        return f"a whole number of {self.unit} from {self.least:,} to {self.most:,}"

    def read(self, text: str) -> int:
        """Read a typed or stored value.

        Raises
        ------
        UnitError
            When it is no whole number of the unit, or out of bounds.
        """
        cleaned = text.strip()
        value: int | None = int(cleaned) if _WHOLE.fullmatch(cleaned) else None
        if value is None and self.unit == "mm" and not _bare_number(cleaned):
            value = parse_length(cleaned)
        if value is None or not self.least <= value <= self.most:
            raise UnitError(f"{self.name} is {self.bounds}, found {text!r}")
        return value


def _bare_number(text: str) -> bool:
    """Whether no unit is given: 0.1 might mean metres or millimetres, so it is refused."""
    return re.fullmatch(r"[\d.,]+", text) is not None


def _settings(kind: Kind, *rows: tuple[str, int, int, str]) -> tuple[Setting, ...]:
    defaults = kind()
    return tuple(Setting(name, getattr(defaults, name), least, most, reason) for name, least, most, reason in rows)


CUTTING = _settings(
    CostSettings,
    ("crosscut_pence", 0, 100_000, "labour for one cut across the pile; common practice"),
    ("rip_pence", 0, 100_000, "labour for one cut along the pile, trims too; longer than a crosscut"),
)
SURVEY = _settings(
    SurveySettings,
    (
        "misclosure_least_mm",
        0,
        1_000,
        "a walk round the edge may miss its start by so much; common practice",
    ),
    ("misclosure_one_in", 10, 100_000, "or by one part in so many of its length; tapes and corners judged by eye"),
    ("turn_error_degrees", 0, 45, "how far one turn may be out, judged by eye; common practice"),
    ("tape_error_mm", 1, 500, "standard error of one tape, whatever its length; common practice"),
    ("tape_error_mm_per_m", 0, 50, "and for every metre of it: sag and soft ends; common practice"),
    ("curve_gap_mm", 1, 200, "how far the straight pieces that stand for a curve may lie off it"),
    ("large_lawn_m2", 1, 1_000_000, "a larger lawn is asked about again: feet may have been read as metres"),
)
LAYOUT = _settings(
    LayoutSettings,
    ("end_mm", 0, 1_000, "grass beyond each end of a strip, trimmed on site; 50 to 100 is common practice"),
    ("free_side_mm", 0, 1_000, "grass beyond a side where the lawn ends, trimmed on site; common practice"),
    ("selvedge_mm", 0, 500, "cut off each side that is seamed: outer tufts are loose or bare; common practice"),
    ("head_trim_mm", 0, 1_000, "cut off each end that is seamed, to square it; common practice"),
    ("warn_narrow_mm", 0, 2_000, "a narrower strip moves underfoot and shows: pointed out; common practice"),
    ("least_narrow_mm", 0, 2_000, "a narrower strip beside another is not laid at all; common practice"),
    ("seam_pence_per_m", 0, 100_000, "tape, adhesive and labour for a metre of seam along the pile; common practice"),
    ("head_seam_pence_per_m", 0, 100_000, "the same across the pile: more care, and shows most; common practice"),
    ("head_from_end_mm", 0, 10_000, "a head seam keeps so far from the ends of its run; common practice"),
    ("head_stagger_mm", 0, 10_000, "head seams of neighbours keep so far apart along the pile; common practice"),
    ("no_seam_distance_mm", 0, 5_000, "how far seams keep from an edge to be kept free of them, such as a door's"),
)
TAKE_OFF = _settings(
    TakeOffSettings,
    ("tape_extra_percent", 0, 100, "overlaps and ends of joining tape; common practice"),
    ("tape_roll_mm", 1_000, 500_000, "a roll often met; see your seller's"),
    (
        "adhesive_least_g_per_m",
        0,
        10_000,
        "0.35 to 0.5 kg for a metre of seam, common practice; the data sheet decides",
    ),
    ("adhesive_most_g_per_m", 0, 10_000, "see adhesive_least_g_per_m"),
    ("adhesive_pack_g", 50, 1_000_000, "a tub often met; 400 or so for cartridges"),
    ("edging_extra_percent", 0, 100, "cuts at corners; common practice"),
    ("edging_length_mm", 100, 20_000, "a length often met; see your seller's"),
    ("fixing_spacing_mm", 20, 2_000, "150 to 300 usual, 750 also met; common practice"),
    ("fixing_pack", 1, 10_000, "a box often met; see your seller's"),
    (
        "sand_least_g_per_m2",
        0,
        50_000,
        "6 to 8 kg/m² is common practice, up to 15 met; the grass maker's sheet decides",
    ),
    ("sand_most_g_per_m2", 0, 50_000, "see sand_least_g_per_m2; 0 for both where no infill is laid"),
    ("sand_bag_g", 1_000, 2_000_000, "a bag often met; the heavier the bag, the more need for help or plant"),
    ("stone_thickness_mm", 0, 500, "25 to 50 usual as laid; common practice; 0 where none is laid"),
    ("stone_density_kg_per_m3", 500, 3_000, "fine stone as laid, common practice; the quarry's figure decides"),
    ("stone_bag_g", 10_000, 30_000_000, "a bulk bag often met; see your seller's"),
    ("membrane_lap_mm", 0, 2_000, "150 is common practice; more on soft ground"),
    ("membrane_end_mm", 0, 5_000, "both ends of a strip together, to be trimmed; common practice"),
    ("membrane_width_mm", 300, 20_000, "a roll often met; see your seller's"),
    ("membrane_roll_mm", 3_000, 500_000, "a roll often met; see your seller's"),
)
QUOTE = _settings(
    QuoteSettings,
    (
        "wastage_percent",
        0,
        MOST_WASTAGE_PERCENT,
        "on a job's area, by rule of thumb; 8 to 15 is met in well-run firms; from memory",
    ),
)
SETTINGS: dict[str, Setting] = {one.name: one for one in (*CUTTING, *SURVEY, *LAYOUT, *TAKE_OFF, *QUOTE)}

_IN_ORDER = (  # the first is never more than the second
    ("least_narrow_mm", "warn_narrow_mm"),
    ("adhesive_least_g_per_m", "adhesive_most_g_per_m"),
    ("sand_least_g_per_m2", "sand_most_g_per_m2"),
)
_BELOW = (("membrane_lap_mm", "membrane_width_mm"), ("membrane_lap_mm", "membrane_roll_mm"))


@dataclass(frozen=True, slots=True)
class FirmSettings:
    """Everything the firm has set, read.

    Parameters
    ----------
    costs, survey, layout, take_off, quote
        For the planner, for measuring in, for laying lawns out, for the take-off and for the rule of thumb.
    currency
        ISO 4217 code, for printing only.
    """

    costs: CostSettings
    survey: SurveySettings
    layout: LayoutSettings
    take_off: TakeOffSettings
    quote: QuoteSettings
    currency: str = DEFAULT_CURRENCY


def read_settings(stored: Mapping[str, str]) -> FirmSettings:
    """Read what is stored; a setting that is not stored has its default.

    Parameters
    ----------
    stored
        Text by name. A name that no setting has is left alone: another version of the program may know it.

    Raises
    ------
    SettingFaults
        When a value cannot be read, is out of bounds, or does not go with another; carries all faults.
    """
    values, faults = _read(stored)
    if faults:
        raise SettingFaults(faults)
    return FirmSettings(
        costs=CostSettings(crosscut_pence=values["crosscut_pence"], rip_pence=values["rip_pence"]),
        survey=SurveySettings(**{setting.name: values[setting.name] for setting in SURVEY}),
        layout=LayoutSettings(**{setting.name: values[setting.name] for setting in LAYOUT}),
        take_off=TakeOffSettings(**{setting.name: values[setting.name] for setting in TAKE_OFF}),
        quote=QuoteSettings(**{setting.name: values[setting.name] for setting in QUOTE}),
        currency=stored.get(CURRENCY, DEFAULT_CURRENCY),
    )


def setting_faults(stored: Mapping[str, str]) -> Sequence[str]:
    """Everything wrong with what is stored; none where `read_settings` can read it."""
    return _read(stored)[1]


def changed_settings(stored: Mapping[str, str], name: str, value: str) -> dict[str, str]:
    """What is to be stored once one setting is changed.

    Parameters
    ----------
    stored
        As for `read_settings`; what is wrong with it already does not stand in the way.
    name, value
        The setting, and its new value; `default` takes the firm's own value away.

    Raises
    ------
    SettingFaults
        When there is no such setting, or the value cannot stand.
    """
    if name not in SETTINGS and name != CURRENCY:
        near = get_close_matches(name, [*SETTINGS, CURRENCY], n=1)
        meant = f"; perhaps {near[0]} is meant" if near else ""
        raise SettingFaults([f"there is no setting {name!r}{meant}; `stockplan settings` lists all"])
    changed = {**stored, name: value.strip()}
    if value.strip().casefold() == "default":
        del changed[name]
    if fresh := [fault for fault in setting_faults(changed) if fault not in setting_faults(stored)]:
        raise SettingFaults(fresh)
    if name in SETTINGS and name in changed:
        changed[name] = str(SETTINGS[name].read(value))
    return changed


def _read(stored: Mapping[str, str]) -> tuple[dict[str, int], list[str]]:
    """Values by name, and what is wrong; a value that cannot be read stays at its default."""
    values = {name: setting.default for name, setting in SETTINGS.items()}
    faults = []
    for name, setting in SETTINGS.items():
        if name in stored:
            try:
                values[name] = setting.read(stored[name])
            except UnitError as error:
                faults.append(str(error))
    currency = stored.get(CURRENCY, DEFAULT_CURRENCY)
    if not _CURRENCY.fullmatch(currency):
        faults.append(f"{CURRENCY} is three capital letters such as {DEFAULT_CURRENCY}, found {currency!r}")
    return values, [*faults, *_disagreements(values)]


def _disagreements(values: Mapping[str, int]) -> Sequence[str]:
    faults = [
        f"{low} is {values[low]:,}, more than {high}, {values[high]:,}; set it no higher, or the other first"
        for low, high in _IN_ORDER
        if values[low] > values[high]
    ]
    return faults + [
        f"{low} is {values[low]:,}, not less than {high}, {values[high]:,}; a strip must be more than its lap"
        for low, high in _BELOW
        if values[low] >= values[high]
    ]
