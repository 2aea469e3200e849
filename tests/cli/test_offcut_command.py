"""Logging an offcut and printing labels as a person types it, also on a real terminal."""

from __future__ import annotations

import json
import os
import pty
import shlex
import shutil
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import pypdfium2
import pytest
import zxingcpp
from typer.testing import CliRunner

from stockplan import cli
from stockplan.actions.importing import import_sheets

DEMO = Path(__file__).parents[2] / "demo_data"


@pytest.fixture(scope="module")
def pattern(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's yard, made once."""
    place = tmp_path_factory.mktemp("pattern") / "yard.db"
    import_sheets(str(place), DEMO)
    return place


@pytest.fixture
def yard(pattern: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with the demo's yard in it, which commands find by themselves."""
    shutil.copyfile(pattern, tmp_path / "yard.db")
    monkeypatch.setenv("STOCKPLAN_STORE", str(tmp_path / "yard.db"))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def typed(*arguments: str) -> tuple[int, str]:
    result = CliRunner().invoke(cli.app, list(arguments))
    return result.exit_code, result.output


def on_a_terminal(arguments: Sequence[str], answers: str) -> tuple[int, str]:
    """Run the program with a terminal as its standard input, on which someone has typed ahead."""
    ours, theirs = pty.openpty()
    try:
        os.write(ours, answers.encode())
        found = subprocess.run(
            [sys.executable, "-m", "stockplan", *arguments],
            stdin=theirs, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, timeout=60, check=False,
        )  # fmt: skip
    finally:
        os.close(ours)
        os.close(theirs)
    return found.returncode, found.stdout


def codes_in(path: Path) -> set[str]:
    document = pypdfium2.PdfDocument(path)
    pages = [document[number].render(scale=300 / 72).to_pil() for number in range(len(document))]
    return {code.text for page in pages for code in zxingcpp.read_barcodes(page)}


def test_without_a_terminal_nothing_is_asked_and_everything_missing_is_told(yard: Path) -> None:
    code, said = typed("offcut")
    assert code == 2
    for words in ("PARENT or --product", "--length", "--width", "--bay"):
        assert words in said
    code, said = typed("offcut", "R-201", "--length", "3")
    assert code == 2
    assert "--width" in said
    assert "--length" not in said.split("still to be said")[1]


def test_logged_labelled_and_found_again(yard: Path) -> None:
    facts = ("--product", "K30", "--batch", "4488", "--length", "6.8", "--width", "1.2", "--bay", "Z9")
    code, said = typed("offcut", *facts, "--label", "new.pdf")
    assert code == 0
    tag = said.split("Write ")[1].split()[0]
    assert "about 21 kg; not for one person" in said
    assert codes_in(yard / "new.pdf") == {tag}
    code, said = typed("stock", "--bay", "Z9", "--at-least", "1.0x6.0")
    assert tag in said
    assert "2 people" in said
    code, said = typed("labels", "--bay", "Z9", "--file", "bay.pdf", "--a4")
    assert code == 0
    assert codes_in(yard / "bay.pdf") == {tag}


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_a_label_that_cannot_be_written_is_printed_later_and_the_offcut_logged_once(yard: Path) -> None:
    facts = ("--product", "K30", "--batch", "4488", "--length", "6.8", "--width", "1.2", "--bay", "Z9")
    code, said = typed("offcut", *facts, "--label", "/dev/full")
    assert code == 1
    assert "/dev/full cannot be written: No space left on device; what was cut is logged all the same; print" in said
    later = shlex.split(said.split("print the label with: stockplan ")[1].splitlines()[0])
    assert typed(*later)[0] == 0
    assert codes_in(yard / later[-2]) == {said.split("Write ")[1].split()[0]}


def test_on_a_terminal_the_questions_come_in_the_order_of_the_hands(yard: Path) -> None:
    code, said = on_a_terminal(["offcut"], "\nK30\n4488\n6.8\n1.2\nZ9\nwet\ny\n")
    assert code == 0, said
    order = ["Cut from", "Product", "Batch", "Length along", "Width across", "Bay", "Condition", "Write the label"]
    places = [said.index(question) for question in order]
    assert places == sorted(places)
    tag = said.split("Write C-")[1].split()[0]
    assert codes_in(yard / f"C-{tag}.pdf") == {f"C-{tag}"}
    assert "wet" in typed("stock", "--bay", "Z9")[1]


def test_a_batch_of_another_product_is_refused_until_it_is_said_to_be_meant(yard: Path) -> None:
    facts = ("offcut", "--product", "K30", "--batch", "0101", "--length", "3.4", "--width", "1.2", "--bay", "Z9")
    code, said = typed(*facts)
    assert code == 1
    assert said == (
        "stockplan: batch 0101 is on record for K24, and never was for K30: is product or batch mistaken? "
        "give --product K24, or add --as-typed\n"
    )
    assert "0 items" in typed("stock", "--bay", "Z9")[1]
    assert typed(*facts, "--as-typed")[0] == 0
    assert typed(*facts)[0] == 0  # it is on record for K30 now, too
    assert typed("offcut", "--product", "K30", "--batch", "new lot", *facts[5:])[0] == 0


def test_on_a_terminal_a_batch_of_another_product_is_asked_about(yard: Path) -> None:
    facts = ("offcut", "--product", "K30", "--batch", "0101", "--bay", "Z9")
    code, said = on_a_terminal(facts, "3.4\n1.2\n\n\n")
    assert code == 1, said
    assert "Batch 0101 is on record for K24, and never was for K30." in said
    assert "nothing was stored; log it under the right product and batch" in said
    assert "0 items" in typed("stock", "--bay", "Z9")[1]


def test_on_a_terminal_a_bay_spelt_otherwise_is_asked_for_again(yard: Path) -> None:
    code, said = on_a_terminal(["offcut", "--product", "K30", "--batch", "4488"], "3.4\n1.25\nf1\nF1\n\nn\n")
    assert code == 0, said
    assert "bay: differs only in letter case from one in the yard, found 'f1', would be right: 'F1'" in said


@pytest.mark.slow
def test_on_a_terminal_exchanged_sides_and_small_offcuts_are_asked_about(yard: Path) -> None:
    code, said = on_a_terminal(["offcut", "--product", "K30", "--batch", "4488"], "0.9\n4.5\nZ9\n\ny\ny\nn\n")
    # 4.50 across is wider than any roll; the other way round it is 4.50 long and 0.90 wide, and kept.
    assert code == 0, said
    assert "Is it 0.90 × 4.50 m, across × along?" in said
    assert "0.90 × 4.50" in typed("stock", "--bay", "Z9")[1]
    code, said = on_a_terminal(["offcut", "--product", "K30"], "\n2\n0.4\nZ8\n\nn\n")
    assert code == 1, said
    assert "put it in the skip" in said
    assert "0 items" in typed("stock", "--bay", "Z8")[1]


def test_on_a_terminal_a_length_that_cannot_be_is_asked_for_again_and_an_end_stores_nothing(yard: Path) -> None:
    code, said = on_a_terminal(["offcut", "--product", "K30", "--batch", "4488"], "3970\n0\n3.97\n\x04")
    assert code == 130, said
    assert "3970.00 m cannot be; would be right: more than nothing, at most 200 m; 3970 mm are 3.97 m" in said
    assert "0.00 m cannot be" in said
    assert "Stopped; nothing was stored." in said


@pytest.mark.slow
def test_a_roll_cut_without_a_plan_is_asked_what_is_left_on_it(yard: Path) -> None:
    code, said = on_a_terminal(["offcut", "R-201"], "5\n1.2\nZ9\n\n18.5\nn\n")
    assert code == 0, said
    assert "Left on R-201" in said
    assert "4.00 × 18.50" in said
    assert typed("verify")[0] == 0


def test_what_is_left_of_a_thing_whose_bay_nobody_recorded_says_so(yard: Path) -> None:
    sheet = yard / "late" / "stock.csv"
    sheet.parent.mkdir()
    sheet.write_text(
        "tag,product,batch,form,width_m,length_m,bay,cost_per_m2\nR-900,K24,0101,part_roll,4,9,,10.60\n", "utf-8"
    )
    assert typed("import", str(sheet.parent))[0] == 0
    code, said = typed("offcut", "R-900", "--length", "3", "--width", "1.2", "--bay", "Z9", "--rest", "5")
    assert code == 0, said
    assert "m: K24, batch 0101, bay Z9, about" in said
    assert "m: K24, batch 0101, bay not recorded, about" in said


def test_on_a_terminal_a_product_nobody_knows_is_told_before_the_next_question(yard: Path) -> None:
    code, said = on_a_terminal(["offcut"], "\nk30\nK30\n4488\n2\n1\nZ9\n\nn\n")
    assert code == 0, said
    assert said.index("the store knows no product k30; it knows: K24, K30, K40") < said.index("Length along")
    assert "K30, batch 4488, bay Z9" in said


def test_what_comes_back_wet_weighs_more_than_is_said(yard: Path) -> None:
    sizes = ("--length", "3.4", "--width", "1.25", "--bay", "B2")
    _, said = typed("offcut", "--product", "K30", *sizes, "--condition", "wet")
    assert "about 11 kg when dry, more as it is wet." in said
    assert "Guidance, not clearance" in said
    assert "when dry" not in typed("offcut", "--product", "K30", *sizes)[1]


@pytest.mark.slow
def test_on_a_terminal_a_parent_nobody_knows_is_told_before_the_next_question(yard: Path) -> None:
    assert typed("write-off", "R-202", "--why", "flood")[0] == 0
    code, said = on_a_terminal(["offcut"], "R-999\nR-202\nR-201\n5\n1.2\nZ9\n\n18.5\nn\n")
    assert code == 0, said
    order = ["R-999 was never in the yard", "R-202 was written off", "Length along the pile", "Left on R-201"]
    assert sorted(order, key=said.index) == order
    code, said = on_a_terminal(["offcut", "R-999"], "5\n1.2\nZ9\n\nn\n")
    assert code == 1
    assert "R-999 was never in the yard" in said
    assert "Length along the pile" not in said


def test_a_new_measurement_with_its_sides_exchanged_is_asked_about(yard: Path) -> None:
    code, told = typed("measure", "R-201", "25x4")
    assert code == 1
    assert "are across and along exchanged?" in told
    assert typed("measure", "R-201", "4x25", "--as-typed")[0] == 0
    code, said = on_a_terminal(["measure", "R-201", "24.8x3.98"], "y\n")
    assert code == 0, said
    assert "is 3.98 × 24.80 m now" in said
    code, said = on_a_terminal(["measure", "R-201", "3.9x3.97"], "")
    assert code == 0, said
    code, said = on_a_terminal(["measure", "R-201", "4.6x2"], "n\n")
    assert code == 0, said
    assert "No roll of it is wider than 4.00 m." in said
    assert "is 4.60 × 2.00 m now" in said


def test_an_odd_shape_by_its_corners(yard: Path) -> None:
    corners = "0,0 4,0 4,1.2 1.5,1.6 1.5,5 0,5"
    code, said = typed("offcut", "--product", "K30", "--batch", "4488", "--corners", corners, "--bay", "Z9")
    assert code == 0
    assert "Cut out 4.00 × 1.20 m: its near left corner lies 0.00 m across and 0.00 m along." in said
    assert "2 items" in typed("stock", "--bay", "Z9")[1]
    assert typed("offcut", "--product", "K30", "--corners", "0,0 4", "--bay", "Z9")[0] == 2
    code, said = typed("offcut", "--product", "K30", "--corners", "0,0 4,4 4,0 0,3", "--bay", "Z9")
    assert code == 1
    assert "cross or touch" in said
    code, said = typed("offcut", "--product", "K30", "--corners", "0,0 9,0 9,9 0,9", "--bay", "Z9")
    assert code == 1
    assert "Cut out" not in said
    both = ("--corners", corners, "--length", "3", "--width", "2")
    assert typed("offcut", "--product", "K30", *both, "--bay", "Z9")[0] == 2


def test_labels_of_things_and_what_cannot_be_labelled(yard: Path) -> None:
    assert typed("labels", "R-201", "r 202", "--file", "two.pdf")[0] == 1  # R-202 is not of the program's make
    assert typed("labels", "R-201", "R-202", "--file", "two.pdf")[0] == 0
    assert codes_in(yard / "two.pdf") == {"R-201", "R-202"}
    there = ("2x3", "--product", "K30", "--bay", "F1", "--cost", "5", "--form", "offcut")
    assert typed("receive", "芝-1", *there)[0] == 0
    code, said = typed("labels", "R-201", "芝-1", "--file", "three.pdf")
    assert code == 0
    assert "On 1 label a ? stands for each letter that cannot be printed: 芝-1. Write them in by hand" in said
    assert codes_in(yard / "three.pdf") == {"R-201", "芝-1"}
    assert "?" not in typed("labels", "R-201", "--file", "two.pdf")[1]
    assert typed("labels", "--file", "none.pdf")[0] == 2
    assert typed("labels", "R-201", "--skip", "1", "--file", "none.pdf")[0] == 2
    code, said = typed("labels", "R-999", "R-201", "R-998", "--file", "none.pdf")
    assert code == 1
    assert "R-999 was never in the yard" in said
    assert "R-998 was never in the yard" in said
    assert typed("labels", "--bay", "nowhere", "--file", "none.pdf")[0] == 1
    assert typed("labels", "--plan", "7", "--file", "none.pdf")[0] == 1
    assert typed("labels", "R-201", "--file", "no/such/folder.pdf")[0] == 1
    assert not (yard / "none.pdf").exists()


@pytest.mark.slow
def test_labels_of_a_plan_before_it_is_cut(yard: Path) -> None:
    assert typed("plan", "--from", "2026-11-30", "--to", "2026-11-30", "--today", "2026-11-26", "--work", "1")[0] in (
        0,
        3,
    )
    code, said = typed("labels", "--plan", "1", "--file", "plan.pdf")
    assert code == 0
    codes = codes_in(yard / "plan.pdf")
    assert any(code.startswith("J201/A/") for code in codes)
    assert "without a tag yet" in said


def test_what_cannot_be_cut_any_more_gets_no_label(yard: Path) -> None:
    days = ("--from", "2026-11-30", "--to", "2026-11-30", "--today", "2026-11-26")
    typed("plan", *days, "--work", "1", "--json", "plan.json")
    piece, other, *_ = json.loads(Path("plan.json").read_text(encoding="utf-8"))["pieces"]
    assert piece["source"] != other["source"]
    assert typed("write-off", piece["source"], "--why", "flood")[0] == 0
    assert typed("measure", other["source"], "0.5x0.5", "--as-typed")[0] == 0
    gone = [f"{one['job']}/{one['strip']}/{one['number']}" for one in (piece, other)]
    code, said = typed("labels", "--plan", "1", "--file", "plan.pdf")
    assert code == 0
    assert all(name in said for name in gone)
    assert "No labels for what cannot be cut any more" in said
    assert not codes_in(yard / "plan.pdf") & set(gone)


def test_the_sheet_to_count_a_bay_by_is_printed(yard: Path) -> None:
    code, _ = typed("count", "F1", "--pdf", "count.pdf")
    assert code == 0
    text = pypdfium2.PdfDocument(yard / "count.pdf")[0].get_textpage().get_text_range()
    assert "Count of bay F1" in text
    assert "R-201" in text
