"""A supplier's last offer of a product is ended by a row with product and supplier alone; what stays is told."""

from __future__ import annotations

from pathlib import Path

from sound_sheets import CONTENTS, PRODUCTS, SUPPLY, faults, only

from stockplan.store.sheets import read_folder

HEADER, ROLLS, LENGTHS = SUPPLY.splitlines(keepends=True)
STAYS = "which can still be bought as before; a row with product and supplier alone says that it cannot"


def test_a_row_with_product_and_supplier_alone_ends_what_the_supplier_sold(tmp_path: Path) -> None:
    found = read_folder(only(tmp_path, supply=f"{HEADER}{ROLLS}G40,Ostrel Depot,, ,,,\n"), CONTENTS)
    assert found.supply == CONTENTS.supply[:1]
    assert found.ended == (("G40", "Ostrel Depot"),)
    assert found.remarks == ()


def test_what_the_sheet_says_nothing_of_is_told_to_stay_on_offer(tmp_path: Path) -> None:
    found = read_folder(only(tmp_path, supply=HEADER + ROLLS), CONTENTS)
    assert found.ended == ()
    assert found.remarks == (f"supply.csv says nothing of G40 from Ostrel Depot, {STAYS}",)
    assert read_folder(only(tmp_path, supply=SUPPLY), CONTENTS).remarks == ()
    assert read_folder(only(tmp_path, products=PRODUCTS, supply=HEADER + ROLLS)).remarks == ()


def test_a_row_that_ends_an_offer_is_held_to_the_rules_of_names(tmp_path: Path) -> None:
    ends = "G30,Fernholt Mills,,,,,\nG50,Ostrel Depot,,,,,\nG40,ostrel depot,,,,,\nG40,,,,,,\n"
    found = faults(only(tmp_path, supply=HEADER + ROLLS + ends), CONTENTS)
    assert found[:4] == (
        "supply.csv:3: supplier: sells 'G30' no more by this row, and offers it in row 2, found 'Fernholt Mills', "
        "would be right: one of the two",
        "supply.csv:4: product: an unknown product, found 'G50', would be right: a row for it in products.csv",
        "supply.csv:5: supplier: differs only in letter case from one in the store, found 'ostrel depot', "
        "would be right: 'Ostrel Depot', if it is the same",
        "supply.csv:6: supplier: empty, found an empty cell, would be right: a name",
    )
    assert all(fault.startswith("supply.csv:6: ") for fault in found[4:])


def test_with_a_column_missing_no_row_ends_anything(tmp_path: Path) -> None:
    narrow = "product,supplier,form,width_m,length_m,price\nG40,Ostrel Depot,,,,\n"
    found = faults(only(tmp_path, supply=narrow), CONTENTS)
    assert "supply.csv:1: lead_days: a missing column" in found[0]
    assert len(found) == 5
