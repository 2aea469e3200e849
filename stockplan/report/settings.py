"""The firm's settings as a list and as JSON."""

from __future__ import annotations

from collections.abc import Mapping

from stockplan.domain.settings import (
    CURRENCY,
    CUTTING,
    DEFAULT_CURRENCY,
    LAYOUT,
    QUOTE,
    SETTINGS,
    SURVEY,
    TAKE_OFF,
    Setting,
)
from stockplan.report.columns import in_columns
from stockplan.report.json_text import json_document
from stockplan.report.words import printable

CHAPTERS = (
    ("Cutting", CUTTING),
    ("Measuring a lawn", SURVEY),
    ("Laying a lawn out in strips", LAYOUT),
    ("Take-off", TAKE_OFF),
    ("Quotes", QUOTE),
)
NO_STANDARD = (
    "Defaults are common practice, or sizes often met, and no standard: the makers' data sheets and the ground decide."
)
HEADINGS = ("setting", "value", "default", "unit", "reason for the default")


def settings_list(stored: Mapping[str, str]) -> str:
    """List every setting: the firm's value where it has set one, default, unit and reason.

    Parameters
    ----------
    stored
        What the firm has set, as text by name.
    """
    rows = []
    for setting in SETTINGS.values():
        rows.append(
            (setting.name, _value(setting, stored), f"{setting.default:,}", setting.unit, setting.reason),
        )
    lines = in_columns(HEADINGS, rows, right=("value", "default")).split("\n")
    text = [lines[0]]
    for chapter, settings in CHAPTERS:
        text += ["", chapter]
        text += [line for line, setting in zip(lines[1:], SETTINGS.values(), strict=True) if setting in settings]
    currency = printable(stored.get(CURRENCY, DEFAULT_CURRENCY))
    text += ["", f"{CURRENCY}: {currency}, three letters by ISO 4217, printed beside amounts", "", NO_STANDARD]
    return "\n".join(text)


def _value(setting: Setting, stored: Mapping[str, str]) -> str:
    text = stored.get(setting.name, str(setting.default))
    return f"{int(text):,}" if text.isascii() and text.isdigit() else text


def settings_json(stored: Mapping[str, str]) -> str:
    """Print every setting as JSON, ending with a newline; `value` is null where what is stored is no number."""
    settings: list[dict[str, object]] = []
    for chapter, some in CHAPTERS:
        for setting in some:
            text = stored.get(setting.name, str(setting.default))
            settings.append(
                {
                    "setting": setting.name,
                    "chapter": chapter,
                    "value": int(text) if text.isascii() and text.isdigit() else None,
                    "default": setting.default,
                    "least": setting.least,
                    "most": setting.most,
                    "unit": setting.unit,
                    "set_by_firm": setting.name in stored,
                    "reason": setting.reason,
                }
            )
    document = {
        "format": "stockplan-settings",
        "version": 1,
        "currency": stored.get(CURRENCY, DEFAULT_CURRENCY),
        "settings": settings,
    }
    return json_document(document)
