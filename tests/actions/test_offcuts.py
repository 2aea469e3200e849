"""Logging an offcut: traced, guarded, and the account still balanced."""

from __future__ import annotations

import shutil
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from stockplan.actions.importing import import_sheets
from stockplan.actions.looking import verify
from stockplan.actions.offcut_facts import Told, look
from stockplan.actions.offcuts import log, rectangles
from stockplan.actions.tracing import tell
from stockplan.actions.yard import set_condition, write_off
from stockplan.domain.lawn import Point
from stockplan.domain.ledger import Account, CutPiece, binned, cut
from stockplan.domain.stock import StockForm
from stockplan.errors import StockplanError, StoreError
from stockplan.store.ledger_rows import record
from stockplan.store.quick import open_yard
from stockplan.store.yard_rows import read_yard

DEMO = Path(__file__).parents[2] / "demo_data"
ROLL, BATCH = "R-201", "4488"  # a roll of K30 in the demo, 4 × 25 m
FOUND = Told(((1200, 6800),), "F5", product="K30", batch=BATCH)


@pytest.fixture(scope="module")
def pattern(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's yard, made once."""
    place = tmp_path_factory.mktemp("pattern") / "yard.db"
    import_sheets(str(place), DEMO)
    return place


@pytest.fixture
def yard(pattern: Path, tmp_path: Path) -> str:
    """The demo's yard, to do with as one likes."""
    shutil.copyfile(pattern, tmp_path / "yard.db")
    return str(tmp_path / "yard.db")


def cut_roll(yard: str, binned_mm2: int) -> None:
    """Record that the roll was cut into one piece of 4 × 20 m, and some of the rest thrown away."""
    with open_yard(yard) as store, store.unit_of_work() as work:
        entries = [cut(ROLL, [CutPiece("J201", "A", 1, 4000, 20_000)], "by hand")]
        if binned_mm2:
            entries.append(binned(ROLL, binned_mm2, "short"))
        record(work, entries, "someone")
        work.commit()


def test_what_was_found_is_logged_with_the_cost_of_its_batch(yard: str) -> None:
    done = log(yard, FOUND)
    (item,) = done.items
    assert (item.product, item.batch, item.form, item.bay) == ("K30", BATCH, StockForm.OFFCUT, "F5")
    assert (item.width_mm, item.length_mm, item.cost_pence_per_m2) == (1200, 6800, 1060)
    assert item.tag.startswith("C-")
    assert verify(yard)[1] == []
    assert log(yard, FOUND).items[0].tag != item.tag


@pytest.mark.parametrize(
    ("form", "width_mm", "length_mm", "price_pence", "cost"),
    [
        ("roll", 3970, 24_850, 100_000, 1014),  # 100,000 / (3.97 * 24.85) = 1,013.64
        ("roll", 4000, 25_000, 100_049, 1000),
        ("roll", 4000, 25_000, 100_050, 1001),
        ("cut_length", 4000, 25_000, 4999, 1250),  # for one running metre
    ],
)
def test_grass_of_which_nothing_is_there_costs_what_it_is_bought_for_to_the_nearest_penny(
    yard: str, form: str, width_mm: int, length_mm: int, price_pence: int, cost: int
) -> None:
    with open_yard(yard) as store, store.unit_of_work() as work:
        work.rows.run("INSERT INTO product (code, description, weight_g_m2) VALUES ('N1', 'new', 2000)")
        work.rows.run(
            "INSERT INTO supply_option (product, supplier, form, width_mm, length_mm, lead_days, price_pence) "
            f"VALUES ('N1', 'Tessel Yarns', '{form}', {width_mm}, {length_mm}, 3, {price_pence})"
        )
        work.commit()
    (item,) = log(yard, Told(((1200, 4800),), "F5", product="N1")).items
    assert item.cost_pence_per_m2 == cost


def test_a_condition_goes_on_record(yard: str) -> None:
    (item,) = log(yard, replace(FOUND, condition="wet")).items
    with open_yard(yard) as store, store.reading() as source:
        assert read_yard(source, [item.tag]).conditions == {item.tag: "wet"}


def test_what_comes_off_a_cut_roll_is_traced_to_it(yard: str) -> None:
    cut_roll(yard, 0)
    (item,) = log(yard, Told(((1200, 4800),), "F5", parent="r 201".upper().replace(" ", "-"))).items
    story = tell(yard, item.tag, date(2026, 11, 30))
    assert story.origin is not None
    assert story.origin.tags == (item.tag, ROLL)
    assert (item.batch, item.cost_pence_per_m2) == (BATCH, 1060)
    assert verify(yard)[1] == []


def test_what_was_binned_and_comes_back_is_taken_out_of_the_bin(yard: str) -> None:
    cut_roll(yard, 4000 * 5000)
    before = account(yard)
    (item,) = log(yard, Told(((1200, 4800),), "F5", parent=ROLL)).items
    after = account(yard)
    assert before.area_written_off_mm2 - after.area_written_off_mm2 == item.area_mm2
    assert before.area_in_mm2 == after.area_in_mm2
    assert verify(yard)[1] == []
    log(yard, Told(((2800, 4800),), "F5", parent=ROLL))
    assert account(yard).area_written_off_mm2 == 4000 * 200
    assert verify(yard)[1] == []


def account(yard: str) -> Account:
    with open_yard(yard) as store, store.reading() as source:
        return read_yard(source, []).account


def test_more_than_is_left_of_the_parent_is_refused(yard: str) -> None:
    cut_roll(yard, 0)
    log(yard, Told(((4000, 4000),), "F5", parent=ROLL))
    with pytest.raises(
        StockplanError, match=r"8\.0 m² cannot come off R-201.*only 4\.0 m² of it is left.*--product K30"
    ):
        log(yard, Told(((2000, 4000),), "F5", parent=ROLL))


def test_a_roll_cut_without_a_plan_leaves_its_rest_under_a_new_tag(yard: str) -> None:
    with pytest.raises(StockplanError, match="lies in the yard uncut by the record"):
        log(yard, Told(((1200, 6800),), "F5", parent=ROLL))
    done = log(yard, Told(((1200, 6800),), "F5", parent=ROLL, rest_mm=18_000))
    assert done.rest is not None
    assert (done.rest.form, done.rest.width_mm, done.rest.length_mm) == (StockForm.PART_ROLL, 4000, 18_000)
    assert done.rest.tag.startswith("P-")
    assert verify(yard)[1] == []
    with open_yard(yard) as store, store.reading() as source:
        assert ROLL in read_yard(source, [ROLL]).gone


@pytest.mark.parametrize(
    ("told", "said"),
    [
        (Told(((1200, 6800),), "F5", parent=ROLL, rest_mm=20_000), "is more than R-201 had"),
        (replace(FOUND, product="K99"), "no product K99; it knows: K24, K30, K40"),
        (replace(FOUND, sizes=((6800, 1200),)), "exchanged"),
        (replace(FOUND, sizes=((400, 6800),)), "--keep-anyway"),
        (replace(FOUND, tag="R-202"), "the tag R-202 was used before"),
        (replace(FOUND, bay=""), "bay: "),
        (replace(FOUND, sizes=((0, 6800),), keep_anyway=True), "across: found 0.00 m"),
        (replace(FOUND, sizes=((1000, 1000), (1000, 2000)), tag="C-900"), "2 rectangles need a tag each"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_stored(yard: str, told: Told, said: str) -> None:
    before = account(yard)
    with pytest.raises(StockplanError) as refused:
        log(yard, told)
    assert said in str(refused.value)
    assert account(yard) == before


def test_everything_against_an_offcut_is_told_at_once(yard: str) -> None:
    with pytest.raises(StockplanError) as refused:
        log(yard, Told(((6800, 400),), "", product="K30", tag="R-202"))
    said = str(refused.value)
    for words in ("bay: ", "R-202 was used before", "exchanged", "--keep-anyway"):
        assert words in said


def test_a_small_offcut_may_be_kept_all_the_same(yard: str) -> None:
    (item,) = log(yard, replace(FOUND, sizes=((400, 6800),), keep_anyway=True)).items
    assert item.width_mm == 400


def test_a_parent_that_was_never_there_is_told_with_what_may_be_meant(yard: str) -> None:
    with pytest.raises(StoreError, match="perhaps R-201 is meant"):
        look(yard, replace(FOUND, parent="R201"))
    (item,) = log(yard, FOUND).items
    wrong = item.tag[:-1] + ("A" if item.tag[-1] != "A" else "C")
    with pytest.raises(StoreError, match=f"a character was misread; perhaps {item.tag} is meant; without a parent"):
        look(yard, replace(FOUND, parent=wrong))
    exchanged = f"{item.tag[:3]}{item.tag[4]}{item.tag[3]}{item.tag[5:]}"
    with pytest.raises(StoreError, match=f"a character was misread; perhaps {item.tag} is meant"):
        tell(yard, exchanged, date(2026, 11, 26))
    with pytest.raises(StoreError, match="so a character was misread; without a parent"):
        look(yard, replace(FOUND, parent="P-987A"))


def test_nothing_comes_off_what_was_written_off(yard: str) -> None:
    write_off(yard, ROLL, "burnt")
    with pytest.raises(StockplanError, match="was written off"):
        log(yard, Told(((1200, 6800),), "F5", parent=ROLL))


def test_an_odd_shape_gives_the_rectangles_worth_most(yard: str) -> None:
    shape = tuple(Point(*corner) for corner in ((0, 0), (4000, 0), (4000, 1200), (1500, 1600), (1500, 5000), (0, 5000)))
    told = replace(FOUND, sizes=())
    found = rectangles(yard, told, shape, 3)
    assert [size[2:] for size in found] == [(4000, 1200), (1500, 3800)]
    done = log(yard, replace(told, sizes=tuple(size[2:] for size in found)))
    assert len({item.tag for item in done.items}) == 2
    assert verify(yard)[1] == []
    assert len(rectangles(yard, told, shape, 1)) == 1


def test_a_shape_with_nothing_worth_keeping_is_told(yard: str) -> None:
    shape = tuple(Point(*corner) for corner in ((0, 0), (700, 0), (0, 900)))
    with pytest.raises(StockplanError, match=r"no rectangle worth keeping; the largest is 0\.35 × 0\.45 m"):
        rectangles(yard, replace(FOUND, sizes=()), shape, 3)
    assert rectangles(yard, replace(FOUND, sizes=(), keep_anyway=True), shape, 1)[0][2:] == (350, 450)


def test_a_condition_can_be_put_right_later(yard: str) -> None:
    (item,) = log(yard, replace(FOUND, condition="wet")).items
    set_condition(yard, item.tag, "sound")
    assert verify(yard)[1] == []
