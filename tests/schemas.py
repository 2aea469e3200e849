"""The JSON Schemas published beside the reports, as the tests hold documents against them."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any

import jsonschema


def published(name: str) -> dict[str, Any]:
    """One of `cover`, `enquiries`, `plan`, `quote` and `why`."""
    schema: dict[str, Any] = json.loads(files("stockplan.report").joinpath(f"{name}.schema.json").read_text("utf-8"))
    return schema


def closed(schema: dict[str, Any]) -> dict[str, Any]:
    """The same schema with no key allowed that it does not state."""
    text = json.dumps(schema).replace('"type": "object"', '"type": "object", "additionalProperties": false')
    found: dict[str, Any] = json.loads(text)
    return found


def validator(schema: dict[str, Any]) -> jsonschema.Draft202012Validator:
    """What holds documents against a schema, dates and the like included."""
    return jsonschema.Draft202012Validator(schema, format_checker=jsonschema.FormatChecker())
