"""Commands, as typed: what they print where, and how they end."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from builders import JOB, MONDAY, ROLL, TODAY, Case, build, new_order, read_cuts, small_request
from click.testing import Result
from typer.testing import CliRunner

import stockplan
from stockplan import cli
from stockplan.domain.jobs import Strip
from stockplan.domain.lawn import LawnCorner
from stockplan.domain.plan import Plan, Shortfall
from stockplan.domain.request import PlanRequest, Progress, SearchLimits
from stockplan.report.plan_reader import read_plan
from stockplan.store.importing import import_contents
from stockplan.store.session import open_store
from stockplan.store.sheets import SheetContents

DEMO = Path(__file__).parent.parent / "demo_data"
WEEK = ("--from", "2026-11-30", "--to", "2026-12-04", "--today", "2026-11-23")
"""The week of the small yard."""


@pytest.fixture(autouse=True)
def store(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A place for a store, named by the environment."""
    monkeypatch.setenv("STOCKPLAN_STORE", str(tmp_path / "yard.db"))
    monkeypatch.setenv("COLUMNS", "120")
    return tmp_path / "yard.db"


def run(*arguments: str) -> Result:
    return CliRunner().invoke(cli.app, list(arguments))


def fill(store: Path, request: PlanRequest, *lawns: LawnCorner) -> None:
    contents = SheetContents(request.products, request.supply, request.stock, request.jobs, lawns)
    with open_store(str(store), create=True) as opened, opened.unit_of_work() as work:
        import_contents(work, contents, "tester")
        work.commit()


class Planner:
    """Stands in for the planner: gives the case's plan and remembers what was asked."""

    def __init__(self, case: Case) -> None:
        self.case = case
        self.limits = SearchLimits()
        self.request = case.request

    def __call__(self, request: PlanRequest, limits: SearchLimits, progress: object, should_stop: object) -> Plan:
        assert callable(progress)
        assert callable(should_stop)
        progress(Progress("G30", "looking", 1000, 900, 0.5))
        assert should_stop() is False
        self.request, self.limits = request, limits
        return replace(self.case.plan, today=request.today)


def small_case() -> Case:
    request = small_request()
    return build(request, {"R-1": read_cuts(request, "3000: J1.A1", "2000: J1.B1 | J1.B2")})


def short_case() -> Case:
    request = small_request(JOB, replace(JOB, code="J2", strips=(Strip("A", 5000, 3000),)))
    cuts = {"R-1": read_cuts(request, "3000: J1.A1", "2000: J1.B1 | J1.B2")}
    return build(request, cuts, short=[Shortfall("J2", "A", 1, "no roll is so wide")])


@pytest.fixture
def planner(store: Path, monkeypatch: pytest.MonkeyPatch) -> Planner:
    """The small yard in the store, and its plan for an answer."""
    return use(small_case(), store, monkeypatch)


def use(case: Case, store: Path, monkeypatch: pytest.MonkeyPatch) -> Planner:
    stand_in = Planner(case)
    fill(store, case.request)
    monkeypatch.setattr("stockplan.cutting.plan_cuts", stand_in, raising=False)
    return stand_in


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


def test_stock_list_and_json_hold_the_same(planner: Planner) -> None:
    listed = run("stock").stdout
    document = json.loads(run("stock", "--json").stdout)
    assert (document["format"], document["version"]) == ("stockplan-stock", 1)
    for item in document["items"]:
        width, length = item["width_mm"] / 1000, item["length_mm"] / 1000
        assert re.search(rf"^{item['tag']} +G30 +{item['batch']} .*{width:.2f} × {length:.2f}", listed, re.MULTILINE)
    assert listed.endswith("2 items, 72.0 m²\n")  # 4 × 10 + 4 × 8
    assert document["items"][0] == {
        "tag": "R-1", "product": "G30", "batch": "B7", "form": "roll", "width_mm": 4000, "length_mm": 10000,
        "bay": "north", "cost_per_m2": 10.0,
    }  # fmt: skip


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


def test_plan_is_shown_stored_and_shown_again(planner: Planner) -> None:
    made = run("plan", *WEEK)
    assert made.exit_code == 0
    assert "R-1" in made.stdout
    assert "stockplan show 1" in made.stderr
    again = run("show")
    assert again.exit_code == 0
    assert again.stdout == made.stdout
    assert run("show", "1").stdout == made.stdout
    missing = run("show", "7")
    assert missing.exit_code == 1
    assert "there is no plan 7; the last one made is 1" in missing.stderr


def test_planner_is_asked_for_what_was_typed(planner: Planner) -> None:
    assert run("plan", *WEEK, "--seconds", "2.5", "--work", "70", "--seed", "3").exit_code == 0
    assert planner.limits == SearchLimits(2.5, 70, 3)
    asked = planner.case.request
    assert planner.request == replace(asked, supply=asked.supply[::-1])  # the store keeps offers in its own order
    assert run("plan", *WEEK).exit_code == 0
    assert planner.limits == SearchLimits(30.0, None, 0)


def test_orders_are_counted_from_the_machines_date_but_not_later_than_the_window(
    planner: Planner, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Clock(date):
        now = date(2026, 11, 25)

        @classmethod
        def today(cls) -> date:  # type: ignore[override]
            return cls.now

    monkeypatch.setattr(cli, "date", Clock)
    result = run("plan", *WEEK[:4])
    assert planner.request.today == date(2026, 11, 25)
    assert "began before" not in result.stderr
    Clock.now = date(2026, 12, 2)
    result = run("plan", *WEEK[:4])
    assert planner.request.today == MONDAY
    assert "These days began before today (2026-12-02); orders are counted from 2026-11-30." in result.stderr


def test_plan_file_and_drawing_are_written(planner: Planner, tmp_path: Path) -> None:
    result = run("plan", *WEEK, "--json", str(tmp_path / "plan.json"), "--drawing", str(tmp_path / "cuts.svg"))
    assert result.exit_code == 0
    assert read_plan((tmp_path / "plan.json").read_text()) == replace(planner.case.plan, today=TODAY)
    assert (tmp_path / "cuts.svg").read_text().startswith("<")
    for name in ("plan.json", "cuts.svg"):
        assert f"Wrote {tmp_path / name}" in result.stderr
    again = tmp_path / "again.json"
    assert run("show", "--json", str(again)).exit_code == 0
    assert again.read_text() == (tmp_path / "plan.json").read_text()


def test_plan_file_on_standard_output_sends_the_tables_to_standard_error(planner: Planner) -> None:
    result = run("plan", *WEEK, "--json", "-")
    assert result.exit_code == 0
    assert json.loads(result.stdout)["format"] == "stockplan-plan"
    assert "Plan for 2026-11-30" in result.stderr


def test_place_that_cannot_be_written_is_found_before_planning(planner: Planner, tmp_path: Path) -> None:
    planner.limits = SearchLimits(99)
    result = run("plan", *WEEK, "--json", str(tmp_path / "nowhere" / "plan.json"))
    assert result.exit_code == 1
    assert "is not there" in result.stderr
    assert planner.limits == SearchLimits(99)


def test_short_plan_ends_with_3_and_is_kept(store: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    use(short_case(), store, monkeypatch)
    result = run("plan", *WEEK)
    assert result.exit_code == 3, result.output
    assert "no roll is so wide" in result.stdout
    assert run("show").exit_code == 0


def test_job_whose_strips_are_not_worked_out_is_named_and_ends_with_3(planner: Planner, store: Path) -> None:
    green = replace(JOB, code="J2", strips=())
    fill(store, replace(planner.case.request, jobs=(green,)), LawnCorner("J2", "front", 1, 0, 0, "edge"))
    result = run("plan", *WEEK)
    assert result.exit_code == 3
    assert "not worked out yet: J2" in result.stderr
    assert planner.request.jobs == (JOB,)


def test_unsound_plan_is_neither_shown_nor_stored(store: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    case = small_case()
    product = case.plan.products[0]
    cheap = replace(product, net_cost_pence=product.net_cost_pence - 1)
    use(replace(case, plan=replace(case.plan, products=(cheap,))), store, monkeypatch)
    result = run("plan", *WEEK, "--json", "-")
    assert result.exit_code == 1
    assert result.stdout == ""
    assert "failed its check" in result.stderr
    assert "money adds up" in result.stderr
    assert run("show").exit_code == 1


def test_nothing_to_plan_says_when_there_is(planner: Planner) -> None:
    result = run("plan", "--from", "2026-06-01", "--to", "2026-06-05")
    assert result.exit_code == 1
    assert "the jobs in the store are laid from 2026-11-30 to 2026-11-30" in result.stderr


def test_orders_are_shown(store: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    request = small_request(stock=())
    cuts = {"new-1": read_cuts(request, "3000: J1.A1", "2000: J1.B1 | J1.B2")}
    use(build(request, cuts, orders=[new_order(length_mm=5000)]), store, monkeypatch)
    result = run("plan", *WEEK)
    assert result.exit_code == 0
    assert "Fernlea Mills" in result.stdout


def test_verify_finds_a_store_in_order_and_one_that_is_not(planner: Planner, store: Path) -> None:
    run("plan", *WEEK)
    assert run("verify").exit_code == 0
    with open_store(str(store)) as opened, opened.unit_of_work() as work:
        work.session.connection().exec_driver_sql("UPDATE stock_item SET length_mm = 1 WHERE tag = 'R-1'")
        work.session.connection().exec_driver_sql("UPDATE stored_plan SET net_cost_pence = 1")
        work.commit()
    result = run("verify")
    assert result.exit_code == 1
    assert "R-1 in stock" in result.stderr
    assert "area does not balance" in result.stderr
    assert "stored plan 1 has another window or cost" in result.stderr


def test_demo_refuses_a_folder_with_a_store(tmp_path: Path) -> None:
    (tmp_path / "stockplan.db").touch()
    result = run("demo", str(tmp_path))
    assert result.exit_code == 1
    assert "already holds a store" in result.stderr


def test_demo_makes_all_it_says(tmp_path: Path) -> None:
    place = tmp_path / "demo"
    result = run("demo", str(place), "--seconds", "3")
    assert result.exit_code == 0, result.stderr
    assert "J221" in result.stdout.partition("Short: not covered")[2]
    named = [
        Path(path) for path in re.findall(r"^(?:Spreadsheets|Store|Plan file|Drawing) +(.+)$", result.stdout, re.M)
    ]
    assert {path.name for path in named} == {
        "sheets", "stockplan.db", "plan.json", "plan-K24.svg", "plan-K30.svg", "plan-K40.svg",
    }  # fmt: skip
    assert all(path.parent == place and path.exists() for path in named)
    store = str(place / "stockplan.db")
    assert run("--store", store, "verify").exit_code == 0
    assert run("--store", store, "import", str(place / "sheets")).stdout.startswith("Nothing new")
    assert run("--store", store, "show", "--json", "-").stdout == (place / "plan.json").read_text()
