"""Plans, as asked for: made, checked, kept, shown again, written; and the demo."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from builders import JOB, MONDAY, TODAY, build, new_order, read_cuts, small_request
from typed_commands import WEEK, Planner, fill, run, short_case, small_case, use

from stockplan.cli import planning
from stockplan.domain.fingerprint import with_fingerprints
from stockplan.domain.request import SearchLimits
from stockplan.report.plan_reader import read_plan
from stockplan.store.repository import read_plans
from stockplan.store.session import open_store


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


def test_ctrl_c_while_a_plan_is_shown_says_that_it_is_stored(
    planner: Planner, store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def press(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("stockplan.report.terminal.render_plan", press)
    stopped = run("plan", *WEEK)
    assert stopped.exit_code == 130
    assert stopped.stderr.endswith("Stopped; plan 1 is stored; show it with: stockplan show 1\n")
    with open_store(str(store)) as opened, opened.reading() as session:
        assert len(list(read_plans(session))) == 1


def test_planner_is_asked_for_what_was_typed(planner: Planner) -> None:
    assert run("plan", *WEEK, "--seconds", "2.5", "--work", "70", "--seed", "3").exit_code == 0
    assert planner.limits == SearchLimits(2.5, 70, 3)
    asked = planner.case.request
    assert planner.request == replace(asked, supply=asked.supply[::-1])  # the store keeps offers in its own order
    assert run("plan", *WEEK).exit_code == 0
    assert planner.limits == SearchLimits(30.0, None, 0)


def test_where_the_work_is_limited_the_clock_does_not_end_the_search(planner: Planner) -> None:
    assert run("plan", *WEEK, "--work", "70").exit_code == 0
    assert (planner.limits.work, planner.limits.seconds) == (70, planning.UNHURRIED_SECONDS)


class Clock(date):
    """Stands in for the machine's date."""

    now = date(2026, 11, 25)

    @classmethod
    def today(cls) -> date:  # type: ignore[override]
        return cls.now


@pytest.mark.parametrize(
    ("machine", "counted_from", "said"),
    [
        (date(2026, 11, 25), date(2026, 11, 25), ""),
        (MONDAY, MONDAY, ""),
        (date(2026, 12, 2), date(2026, 12, 2), "These days began before 2026-12-02; nothing can be ordered before"),
        (date(2026, 12, 4), date(2026, 12, 4), "These days began before 2026-12-04; nothing can be ordered before"),
        (
            date(2026, 12, 5),
            MONDAY,
            "These days have passed (today is 2026-12-05); orders are counted from 2026-11-30.",
        ),
    ],
)
def test_orders_are_counted_from_the_machines_date_unless_all_days_have_passed(
    planner: Planner, monkeypatch: pytest.MonkeyPatch, machine: date, counted_from: date, said: str
) -> None:
    monkeypatch.setattr(planning, "date", Clock)
    monkeypatch.setattr(Clock, "now", machine)
    result = run("plan", *WEEK[:4])
    assert planner.request.today == counted_from
    assert said in result.stderr
    assert ("These days" in result.stderr) == bool(said)


def test_a_day_of_ordering_after_all_lay_days_is_taken_but_remarked_on(planner: Planner) -> None:
    result = run("plan", *WEEK[:4], "--today", "2026-12-20")
    assert planner.request.today == date(2026, 12, 20)
    assert "These days have passed by 2026-12-20; nothing that is ordered can arrive in time." in result.stderr


def test_plan_file_and_drawing_are_written(planner: Planner, tmp_path: Path) -> None:
    result = run("plan", *WEEK, "--json", str(tmp_path / "plan.json"), "--drawing", str(tmp_path / "cuts.svg"))
    assert result.exit_code == 0
    made = with_fingerprints(planner.request, replace(planner.case.plan, today=TODAY))
    assert read_plan((tmp_path / "plan.json").read_text()) == made
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


def test_plan_that_cannot_be_written_in_the_end_is_still_kept_and_named(
    planner: Planner, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("stockplan.actions.files.check_writable", lambda path: None)
    result = run("plan", *WEEK, "--json", str(tmp_path / "nowhere" / "plan.json"))
    assert result.exit_code == 1
    assert "show it again with: stockplan show 1" in result.stderr
    assert run("show").exit_code == 0


def test_short_plan_ends_with_3_and_is_kept(store: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    use(short_case(), store, monkeypatch)
    result = run("plan", *WEEK)
    assert result.exit_code == 3, result.output
    assert "no roll is so wide" in result.stdout
    assert run("show").exit_code == 0


def test_job_whose_strips_are_not_worked_out_is_named_and_ends_with_3(planner: Planner, store: Path) -> None:
    green = replace(JOB, code="J2", strips=())
    fill(store, replace(planner.case.request, jobs=(green,)))
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
    order = read_plan(run("show", "--json", "-").stdout).products[0].orders[0]
    monkeypatch.setattr(planning, "date", Clock)
    monkeypatch.setattr(Clock, "now", order.order_by)
    assert "has passed" not in run("show").stderr
    monkeypatch.setattr(Clock, "now", order.order_by + timedelta(days=1))
    assert f"The day to order has passed for new-1 ({order.order_by})" in run("show").stderr
    assert run("withdraw", "1").exit_code == 0
    assert "has passed" not in run("show").stderr


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


@pytest.mark.parametrize(
    ("text", "said"),
    [("{", "this is not a plan file: "), ("[]", 'this is not a plan file: it should begin with "format"')],
)
def test_verify_names_a_plan_that_cannot_be_read_once(planner: Planner, store: Path, text: str, said: str) -> None:
    run("plan", *WEEK)
    with open_store(str(store)) as opened, opened.unit_of_work() as work:
        work.session.connection().exec_driver_sql(f"UPDATE stored_plan SET plan_json = '{text}'")
        work.commit()
    result = run("verify")
    assert result.exit_code == 1
    assert f"stored plan 1 cannot be read: {said}" in result.stderr
    assert result.stderr.count("plan 1") == 1


def test_demo_refuses_a_folder_with_a_store(tmp_path: Path) -> None:
    (tmp_path / "stockplan.db").touch()
    result = run("demo", str(tmp_path))
    assert result.exit_code == 1
    assert "already holds a store" in result.stderr


@pytest.mark.parametrize("name", ["sheets/products.csv", "sheets", "plan.json", "plan-K30.svg"])
def test_demo_overwrites_nothing(tmp_path: Path, name: str) -> None:
    mine = tmp_path / name
    mine.parent.mkdir(exist_ok=True)
    mine.write_text("mine")
    result = run("demo", str(tmp_path), "--seconds", "1")
    assert result.exit_code == 1
    assert "is there already and would be overwritten; name another folder for the demo" in result.stderr
    assert mine.read_text() == "mine"
    assert not (tmp_path / "stockplan.db").exists()


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
        "plan-lawns-J202.svg", "plan-lawns-J209.svg", "plan-lawns-J211.svg", "plan-lawns-J213.svg",
    }  # fmt: skip
    assert all(path.parent == place and path.exists() for path in named)
    store = str(place / "stockplan.db")
    assert run("--store", store, "verify").exit_code == 0
    assert run("--store", store, "import", str(place / "sheets")).stdout.startswith("Nothing new")
    assert run("--store", store, "show", "--json", "-").stdout == (place / "plan.json").read_text()
