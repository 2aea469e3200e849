"""The firm's settings: read, refused, and never out of step with what they are read into."""

from __future__ import annotations

from dataclasses import fields

import pytest

from stockplan.domain.layout import LayoutSettings
from stockplan.domain.materials import TakeOffSettings
from stockplan.domain.quote import QuoteSettings
from stockplan.domain.request import CostSettings
from stockplan.domain.settings import SETTINGS, changed_settings, read_settings, setting_faults
from stockplan.domain.survey import SurveySettings
from stockplan.errors import SettingFaults

KINDS = (CostSettings, SurveySettings, LayoutSettings, TakeOffSettings, QuoteSettings)
NOT_THE_FIRMS = {"leftovers_have_worth"}  # only published instances turn it off


def test_every_field_is_a_setting_and_every_setting_a_field() -> None:
    names = [field.name for kind in KINDS for field in fields(kind) if field.name not in NOT_THE_FIRMS]
    assert sorted(names) == sorted(SETTINGS)


@pytest.mark.parametrize("name", SETTINGS)
def test_every_default_is_within_bounds_and_has_a_unit_and_a_reason(name: str) -> None:
    setting = SETTINGS[name]
    assert setting.read(str(setting.default)) == setting.default
    assert setting.unit
    assert len(setting.reason) > 10


def test_nothing_stored_is_the_defaults() -> None:
    read = read_settings({})
    assert (read.costs, read.layout, read.take_off) == (CostSettings(), LayoutSettings(), TakeOffSettings())
    assert (read.survey, read.currency) == (SurveySettings(), "GBP")


def test_what_is_stored_is_read_and_what_no_setting_is_called_left_alone() -> None:
    read = read_settings(
        {
            "rip_pence": "450",
            "membrane_lap_mm": "300",
            "end_mm": "50",
            "large_lawn_m2": "900",
            "currency": "EUR",
            "of_tomorrow": "?",
        }
    )
    assert read.costs == CostSettings(rip_pence=450)
    assert read.layout == LayoutSettings(end_mm=50)
    assert read.survey == SurveySettings(large_lawn_m2=900)
    assert read.take_off == TakeOffSettings(membrane_lap_mm=300)
    assert read.currency == "EUR"


@pytest.mark.parametrize(
    ("name", "typed", "stored"),
    [
        ("fixing_spacing_mm", "150", "150"),
        ("fixing_spacing_mm", " 0.15 m ", "150"),
        ("fixing_spacing_mm", "15cm", "150"),
        ("sand_bag_g", "20000", "20000"),
        ("currency", "EUR", "EUR"),
    ],
)
def test_what_can_be_typed(name: str, typed: str, stored: str) -> None:
    assert changed_settings({}, name, typed) == {name: stored}


@pytest.mark.parametrize(
    ("name", "typed", "told"),
    [
        ("fixing_spacing_mm", "0.15", "a whole number of mm from 20 to 2,000, found '0.15'"),
        ("fixing_spacing_mm", "3000", "from 20 to 2,000, found '3000'"),
        ("sand_bag_g", "25 kg", "a whole number of g from"),
        ("tape_extra_percent", "-5", "a whole number of % from 0 to 100, found '-5'"),
        ("rip_pence", "3.00", "a whole number of pence"),
        ("rip_pence", "", "found ''"),
        ("currency", "pounds", "three capital letters such as GBP, found 'pounds'"),
        ("sand_bag", "20000", "there is no setting 'sand_bag'; perhaps sand_bag_g is meant"),
        ("sand_least_g_per_m2", "9000", "is 9,000, more than sand_most_g_per_m2, 8,000"),
        ("least_narrow_mm", "600", "is 600, more than warn_narrow_mm, 500"),
        ("membrane_lap_mm", "2000", "not less than membrane_width_mm"),
    ],
)
def test_what_cannot_be_typed_and_what_would_be_right(name: str, typed: str, told: str) -> None:
    with pytest.raises(SettingFaults) as caught:
        changed_settings({}, name, typed)
    assert told in str(caught.value)


def test_every_fault_is_told_at_once() -> None:
    stored = {"rip_pence": "three", "sand_least_g_per_m2": "9000", "currency": "£"}
    with pytest.raises(SettingFaults) as caught:
        read_settings(stored)
    assert len(caught.value.faults) == len(setting_faults(stored)) == 3


def test_what_was_wrong_before_can_be_set_right_one_by_one() -> None:
    stored = {"rip_pence": "three", "crosscut_pence": "two"}
    stored = changed_settings(stored, "rip_pence", "300")
    stored = changed_settings(stored, "crosscut_pence", "default")
    assert stored == {"rip_pence": "300"}
    assert setting_faults(stored) == []
