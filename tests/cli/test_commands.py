"""Commands, as typed: what they print where, and how they end."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import pytest
from builders import ROLL, small_request
from typed_commands import WEEK, Planner, fill, run

import stockplan

DEMO = Path(__file__).parents[2] / "demo_data"


def test_version() -> None:
    assert run("--version").stdout == f"stockplan {stockplan.__version__}\n"


def test_import_says_what_is_new_and_then_that_nothing_is() -> None:
    first = run("import", str(DEMO))
    assert first.exit_code == 0
    assert "stock: 60 new" in first.stdout
    second = run("import", str(DEMO))
    assert second.exit_code == 0
    assert second.stdout.startswith("Nothing new")
    assert "stock: 60 as before" in second.stdout


def test_import_says_what_a_sheet_changes_of_things_in_the_yard(tmp_path: Path) -> None:
    assert run("import", str(DEMO)).exit_code == 0
    sheet = tmp_path / "stock.csv"
    text = (DEMO / "stock.csv").read_text()
    sheet.write_text(text.replace("R-201,K30,4488,roll,4,25,F1,10.60", "R-201,K30,4488,roll,4,12.5,Z 1,10.60"))
    result = run("import", str(tmp_path))
    assert "stock: 1 changed (R-201), 59 as before" in result.stdout
    assert result.stderr == (
        "R-201: was 4.00 × 25.00 m, bay F1; is 4.00 × 12.50 m, bay Z 1 now\n"
        "A tag is one thing: another thing needs another tag.\n"
    )
    sheet.write_text(text.replace(",F", ",G"))
    told = run("import", str(tmp_path)).stderr.splitlines()
    assert told[0] == "R-201: was 4.00 × 12.50 m, bay Z 1; is 4.00 × 25.00 m, bay G1 now"
    assert "R-202: was bay F1; is bay G1 now" in told
    assert run("import", str(tmp_path)).stderr == ""


def test_import_names_jobs_that_should_have_been_laid_before(tmp_path: Path) -> None:
    sheets = tmp_path / "sheets"
    sheets.mkdir()
    (sheets / "products.csv").write_text("product,description,weight_kg_m2\nG30,x,2\n")
    (sheets / "jobs.csv").write_text("job,site,product,lay_on,pile_towards,batch_rule\nJ1,x,G30,2001-02-03,,\n")
    (sheets / "strips.csv").write_text("job,strip,width_m,length_m,count\nJ1,A,1,2,\n")
    result = run("import", str(sheets))
    assert result.exit_code == 0
    assert result.stderr == "jobs.csv:2: lay_on: 2001-02-03 has passed; J1 is stored all the same\n"
    assert "2001-02-03" in run("jobs").stdout


def test_faulty_sheets_end_with_1_and_every_fault_on_standard_error(tmp_path: Path, store: Path) -> None:
    sheets = tmp_path / "sheets"
    sheets.mkdir()
    (sheets / "products.csv").write_text("product,description,weight_kg_m2\nG30,x,heavy\nG40,y,-1\n")
    result = run("import", str(sheets))
    assert result.exit_code == 1
    assert result.stdout == ""
    assert "products.csv:2: weight_kg_m2" in result.stderr
    assert "products.csv:3: weight_kg_m2" in result.stderr
    assert result.stderr.endswith("Nothing was stored: 2 faults.\n")
    assert not store.exists()


def test_missing_folder_ends_with_1(tmp_path: Path) -> None:
    result = run("import", str(tmp_path / "nowhere"))
    assert result.exit_code == 1
    assert "nowhere" in result.stderr


@pytest.mark.parametrize("command", [["stock"], ["jobs"], ["verify"], ["show"], ["plan", *WEEK]])
def test_no_store_ends_with_1_and_what_to_do(command: list[str], store: Path) -> None:
    result = run(*command)
    assert result.exit_code == 1
    assert f"there is no store at {store}" in result.stderr
    assert not store.exists()


@pytest.mark.parametrize(
    "command",
    [
        ["cut"],
        ["import"],
        ["plan", "--from", "2026-11-30"],
        ["plan", "--from", "30/11/2026", "--to", "2026-12-04"],
        ["plan", "--from", "2026-12-04", "--to", "2026-11-30"],
        ["plan", *WEEK, "--seconds", "0"],
        ["stock", "--at-least", "1.8"],
        ["stock", "--at-least", "1,8x3"],
        ["show", "0"],
        ["--store", "x.db", "demo"],
    ],
)
def test_wrong_usage_ends_with_2(command: list[str]) -> None:
    result = run(*command)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert "Error" in result.stderr


def test_store_option_may_stand_before_or_after_the_command(tmp_path: Path) -> None:
    other = str(tmp_path / "other.db")
    assert run("--store", other, "import", str(DEMO)).exit_code == 0
    assert run("stock", "--store", other).stdout == run("--store", other, "stock").stdout
    assert run("stock").exit_code == 1


def tags(*filters: str) -> list[str]:
    return [item["tag"] for item in json.loads(run("stock", *filters, "--json").stdout)["items"]]


def test_stock_filters(planner: Planner) -> None:
    assert tags() == ["R-1", "R-2"]
    assert tags("--batch", "B8") == ["R-2"]
    assert tags("--product", "G40") == []
    assert tags("--bay", "north") == ["R-1", "R-2"]
    assert tags("--at-least", "4x10") == ["R-1"]
    assert tags("--at-least", "4.001x1") == []
    assert tags("--at-least", "4000mm × 8m") == ["R-1", "R-2"]
    assert tags("--at-least", "10x4") == []  # never turned


def test_stock_of_a_product_the_store_does_not_know_says_so(planner: Planner) -> None:
    mistyped = run("stock", "--product", "g30")
    assert (mistyped.exit_code, mistyped.stdout) == (0, "0 items, 0.0 m²\n")
    assert mistyped.stderr == "The store knows no product 'g30'; it knows: G30.\n"
    other = run("stock", "--product", "X\x1b[31m", "--json")
    assert (other.exit_code, json.loads(other.stdout)["items"]) == (0, [])
    assert other.stderr.startswith("The store knows no product 'X")
    assert other.stderr.isascii()
    assert "\x1b" not in other.stderr


def test_stock_of_a_known_product_says_no_more(planner: Planner) -> None:
    assert run("stock", "--product", "G30").stderr == ""
    assert run("stock", "--product", "G30", "--batch", "none such").stderr == ""


def test_stock_list_and_json_hold_the_same(planner: Planner) -> None:
    listed = run("stock").stdout
    document = json.loads(run("stock", "--json").stdout)
    assert (document["format"], document["version"]) == ("stockplan-stock", 1)
    for item in document["items"]:
        width, length = item["width_mm"] / 1000, item["length_mm"] / 1000
        assert re.search(rf"^{item['tag']} +G30 +{item['batch']} .*{width:.2f} × {length:.2f}", listed, re.MULTILINE)
    assert "\n2 items, 72.0 m²\n" in listed  # 4 × 10 + 4 × 8
    expected = {
        "tag": "R-1", "product": "G30", "batch": "B7", "form": "roll", "width_mm": 4000, "length_mm": 10000,
        "bay": "north", "cost_per_m2": 10.0, "reserved_for_plan": None, "held_for": None, "held_until": None,
        "condition": "sound", "cut_from": None,
    }  # fmt: skip
    assert document["items"][0] | expected == document["items"][0]


def test_control_characters_in_tags_do_not_reach_the_terminal(store: Path) -> None:
    rude = replace(ROLL, tag="R\x1b[31m-1")
    fill(store, small_request(stock=(rude,)))
    assert "\x1b" not in run("stock").stdout
    assert tags() == [rude.tag]


def test_jobs_lists_the_schedule(planner: Planner) -> None:
    listed = run("jobs").stdout
    assert re.search(r"^2026-11-30  Mon  J1 +Larch Row +G30 +3 +18.0 +one batch +house$", listed, re.MULTILINE)
    assert "1 job, 3 pieces, 18.0 m²" in listed  # 4 × 3 + 2 × 1.5 × 2
    assert "0 jobs" in run("jobs", "--from", "2026-12-01").stdout
    strips = json.loads(run("jobs", "--to", "2026-11-30", "--json").stdout)["jobs"][0]["strips"]
    assert strips[1] == {"strip": "B", "width_mm": 1500, "length_mm": 2000, "count": 2}
