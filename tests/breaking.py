"""Copying a request or a plan with one thing in it changed."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from typing import Any


def put(node: Any, old: object, *new: object) -> Any:
    """Copy a request or a plan with one object in it, known by identity, replaced by none, one or several others."""
    if isinstance(node, tuple):
        changed: list[Any] = []
        for child in node:
            changed.extend(new if child is old else [put(child, old, *new)])
        return tuple(changed)
    if node is old:
        (only,) = new
        return only
    if is_dataclass(node) and not isinstance(node, type):
        children = {field.name: getattr(node, field.name) for field in fields(node)}
        renewed = {
            name: put(child, old, *new)
            for name, child in children.items()
            if isinstance(child, tuple) or is_dataclass(child)
        }
        return replace(node, **renewed)
    return node


def every(node: Any) -> list[Any]:
    """Every frozen object in a plan, itself included."""
    if isinstance(node, tuple):
        return [thing for child in node for thing in every(child)]
    if is_dataclass(node) and not isinstance(node, type):
        return [node, *(thing for field in fields(node) for thing in every(getattr(node, field.name)))]
    return []
