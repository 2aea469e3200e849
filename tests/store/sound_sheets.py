"""A sound folder of sheets and what it holds; folders like it with some sheets replaced; the faults in a folder."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from stockplan.domain.jobs import BatchRule, Job, Strip
from stockplan.domain.lawn import Lawn, Point
from stockplan.domain.stock import Product, StockForm, StockItem, SupplyForm, SupplyOption
from stockplan.errors import SheetFaults
from stockplan.store.sheets import SheetContents, read_folder

PRODUCTS = "product,description,weight_kg_m2\nG30,30 mm pile,2.45\nG40,40 mm pile,2.9\n"
SUPPLY = (
    "product,supplier,form,width_m,length_m,price,lead_days\n"
    "G30,Fernholt Mills,roll,4,25,1100,5\n"
    "G40,Ostrel Depot,cut_length,4,20,50.50,0\n"
)
STOCK = (
    "tag,product,batch,form,width_m,length_m,bay,cost_per_m2\n"
    "R-1,G30,B7,roll,4,25,A1,11\n"
    "P-2,G30,B7,part_roll,3.97,7.805,A2,11.00\n"
    "C-3,G40,,offcut,1.2,3.625,C4,0\n"
)
JOBS = (
    "job,site,product,lay_on,pile_towards,batch_rule\n"
    "J1,3 Alder Row,G30,2026-11-30,house,\n"
    "J2,9 Gorse End,G40,2026-12-01,,any\n"
)
STRIPS = "job,strip,width_m,length_m,count\nJ1,A,4,5.2,2\nJ1,B,1.25,5.2,\nJ2,A,3.6,4,1\n"
LAWNS = (
    "job,lawn,corner,x_m,y_m,part\n"
    "J2,front,1,-1.5,0,edge\nJ2,front,2,4,0.125,edge\nJ2,front,3,4,5,edge\n"
    "J2,front,1,2,1,hole\nJ2,front,2,3,1,hole\nJ2,front,3,3,2,hole\n"
)
FRONT = Lawn(
    "front",
    (Point(-1500, 0), Point(4000, 125), Point(4000, 5000)),
    ((Point(2000, 1000), Point(3000, 1000), Point(3000, 2000)),),
)
SOUND = {"products": PRODUCTS, "supply": SUPPLY, "stock": STOCK, "jobs": JOBS, "strips": STRIPS, "lawns": LAWNS}

CONTENTS = SheetContents(
    products=(Product("G30", "30 mm pile", 2450), Product("G40", "40 mm pile", 2900)),
    supply=(
        SupplyOption("G30", "Fernholt Mills", SupplyForm.ROLL, 4000, 25_000, 110_000, 5),
        SupplyOption("G40", "Ostrel Depot", SupplyForm.CUT_LENGTH, 4000, 20_000, 5050, 0),
    ),
    stock=(
        StockItem("R-1", "G30", "B7", StockForm.ROLL, 4000, 25_000, "A1", 1100),
        StockItem("P-2", "G30", "B7", StockForm.PART_ROLL, 3970, 7805, "A2", 1100),
        StockItem("C-3", "G40", "", StockForm.OFFCUT, 1200, 3625, "C4", 0),
    ),
    jobs=(
        Job(
            "J1",
            "3 Alder Row",
            "G30",
            date(2026, 11, 30),
            "house",
            BatchRule.ONE,
            (Strip("A", 4000, 5200, 2), Strip("B", 1250, 5200, 1)),
        ),
        Job("J2", "9 Gorse End", "G40", date(2026, 12, 1), "", BatchRule.ANY, (Strip("A", 3600, 4000, 1),), (FRONT,)),
    ),
)


def write(folder: Path, **sheets: str | bytes | None) -> Path:
    """Write the sound folder with some sheets replaced; None leaves one out."""
    for name, text in {**SOUND, **sheets}.items():
        if text is not None:
            (folder / f"{name}.csv").write_bytes(text.encode() if isinstance(text, str) else text)
    return folder


def only(folder: Path, **sheets: str | bytes) -> Path:
    """Write no sheets but these."""
    return write(folder, **(dict.fromkeys(SOUND) | sheets))


def faults(folder: Path, known: SheetContents | None = None) -> tuple[str, ...]:
    with pytest.raises(SheetFaults) as raised:
        read_folder(folder, known)
    return raised.value.faults
