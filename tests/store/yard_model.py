"""A plain model of the yard: what may happen, and what it then holds, worked out from all that happened each time."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Any

Op = dict[str, Any]


@dataclass
class Held:
    """What a plain account of the operations so far comes to."""

    items: dict[str, dict[str, Any]] = field(default_factory=dict)
    plans: dict[str, int] = field(default_factory=dict)
    holds: dict[str, tuple[str, date]] = field(default_factory=dict)
    conditions: dict[str, str] = field(default_factory=dict)
    seen: dict[str, date] = field(default_factory=dict)
    gone: dict[str, dict[str, Any]] = field(default_factory=dict)
    parents: dict[str, str] = field(default_factory=dict)
    pieces: list[tuple[str, str, int, str]] = field(default_factory=list)
    came_in: int = 0
    money_in: int = 0
    used: int = 0
    money_used: int = 0
    off: int = 0
    money_off: int = 0

    def held(self, tag: str, on: date) -> tuple[str, date] | None:
        hold = self.holds.get(tag)
        return hold if hold and on <= hold[1] else None

    def available(self, on: date) -> set[str]:
        return {tag for tag in self.items if tag not in self.plans and not self.held(tag, on)}


def area(thing: dict[str, Any]) -> int:
    return int(thing["width"] * thing["length"])


class Model:
    """Operations as they were written, each with its number, whether it was undone, and the day."""

    def __init__(self) -> None:
        self.ops: list[Op] = []

    def now(self) -> Held:
        """Go through everything that was not undone, from the beginning."""
        held = Held()
        undone = {op["undoes"] for op in self.ops if op["kind"] == "reverse"}
        for op in self.ops:
            if op["kind"] != "reverse" and op["number"] not in undone:
                getattr(self, op["kind"])(held, op)
        return held

    def write(self, op: Op) -> None:
        self.ops.append({**op, "number": len(self.ops) + 1})

    def of(self, number: int) -> Op:
        return self.ops[number - 1]

    # what each operation does

    def receive(self, held: Held, op: Op) -> None:
        held.items[op["tag"]] = dict(op["item"])
        held.seen[op["tag"]] = op["day"]
        held.came_in += area(op["item"])
        held.money_in += area(op["item"]) * op["item"]["cost"]

    def measure(self, held: Held, op: Op) -> None:
        item = held.items[op["tag"]]
        held.came_in -= area(item)
        held.money_in -= area(item) * item["cost"]
        item.update(op["new"])
        held.came_in += area(item)
        held.money_in += area(item) * item["cost"]
        held.seen[op["tag"]] = op["day"]

    def move(self, held: Held, op: Op) -> None:
        held.items[op["tag"]]["bay"] = op["bay"]
        held.seen[op["tag"]] = op["day"]

    def count(self, held: Held, op: Op) -> None:
        held.seen[op["tag"]] = op["day"]

    def condition(self, held: Held, op: Op) -> None:
        held.conditions[op["tag"]] = op["word"]
        if op["word"] == "sound":
            del held.conditions[op["tag"]]

    def reserve(self, held: Held, op: Op) -> None:
        held.plans[op["tag"]] = op["plan"]
        held.holds.pop(op["tag"], None)

    def release(self, held: Held, op: Op) -> None:
        del held.plans[op["tag"]]

    def hold(self, held: Held, op: Op) -> None:
        held.holds[op["tag"]] = (op["quote"], op["until"])

    def free(self, held: Held, op: Op) -> None:
        del held.holds[op["tag"]]

    def _leave(self, held: Held, tag: str) -> dict[str, Any]:
        for promises in (held.plans, held.holds, held.conditions, held.seen):
            promises.pop(tag, None)
        return held.items.pop(tag)

    def cut(self, held: Held, op: Op) -> None:
        item = self._leave(held, op["tag"])
        sound = [piece for piece in op["pieces"] if not piece["spoiled"]]
        held.gone[op["tag"]] = {**item, "left": area(item) - sum(map(area, sound)), "cut": True, "off": 0}
        held.pieces += [(piece["job"], piece["strip"], piece["number"], op["tag"]) for piece in sound]
        held.used += area(item)
        held.money_used += area(item) * item["cost"]

    def back(self, held: Held, op: Op) -> None:
        parent = held.gone[op["parent"]]
        item = {**{name: parent[name] for name in ("product", "batch", "cost")}, **op["item"]}
        held.items[op["tag"]] = item
        held.parents[op["tag"]] = op["parent"]
        held.seen[op["tag"]] = op["day"]
        parent["left"] -= area(item)
        parent["off"] += 1
        held.used -= area(item)
        held.money_used -= area(item) * item["cost"]

    def bin(self, held: Held, op: Op) -> None:
        parent = held.gone[op["tag"]]
        parent["left"] -= op["area"]
        parent["off"] += 1
        held.used -= op["area"]
        held.money_used -= op["area"] * parent["cost"]
        held.off += op["area"]
        held.money_off += op["area"] * parent["cost"]

    def write_off(self, held: Held, op: Op) -> None:
        item = self._leave(held, op["tag"])
        held.gone[op["tag"]] = {**item, "cut": False, "off": 0}
        held.off += area(item)
        held.money_off += area(item) * item["cost"]

    # what may happen

    def may(self, op: Op, day: date) -> bool:
        held = self.now()
        tag, kind = op.get("tag", ""), op["kind"]
        if kind == "reverse":
            return self._may_reverse(held, op["undoes"])
        if kind in {"receive", "back"}:
            return tag not in held.items and tag not in held.gone and (kind == "receive" or self._fits(held, op))
        if kind == "bin":
            return tag in held.gone and held.gone[tag]["cut"] and op["area"] <= held.gone[tag]["left"]
        return tag in held.items and self._may_promised(held, op, day)

    def _may_promised(self, held: Held, op: Op, day: date) -> bool:
        tag, kind = op["tag"], op["kind"]
        plan, hold = held.plans.get(tag), held.held(tag, day)
        if kind == "reserve":
            return plan is None and hold is None
        if kind == "release":
            return plan is not None and plan == op["plan"]
        if kind == "hold":
            return plan is None and (hold is None or hold[0] == op["quote"]) and op["until"] >= day
        if kind == "free":
            return hold is not None
        if kind == "cut":
            item = held.items[tag]
            fit = all(p["width"] <= item["width"] and p["length"] <= item["length"] for p in op["pieces"])
            enough = sum(area(p) for p in op["pieces"] if not p["spoiled"]) <= area(item)
            return plan in (None, op["plan"]) and hold is None and fit and enough
        return True

    def _fits(self, held: Held, op: Op) -> bool:
        parent = held.gone.get(op["parent"])
        if parent is None or not parent["cut"]:
            return False
        item = op["item"]
        loose = parent["form"] == "offcut" and item["form"] == "part_roll"
        inside = item["width"] <= parent["width"] and item["length"] <= parent["length"]
        return inside and not loose and item["form"] != "roll" and area(item) <= parent["left"]

    def _may_reverse(self, held: Held, number: int) -> bool:
        if not 1 <= number <= len(self.ops):
            return False
        op = self.of(number)
        if op["kind"] == "reverse" or any(o["kind"] == "reverse" and o["undoes"] == number for o in self.ops):
            return False
        if op["kind"] == "bin":
            return True
        tag = op["tag"]
        undone = {o["undoes"] for o in self.ops if o["kind"] == "reverse"}
        after = [o for o in self.ops[number:] if self._touches(o, tag) and o["number"] not in undone]
        came_off = held.gone.get(tag, {}).get("off", 0)
        return not after and not came_off

    def _touches(self, op: Op, tag: str) -> bool:
        """Whether an operation does something to the tag itself; what comes off it, and goes back again, does not."""
        return op["kind"] not in {"bin", "reverse"} and op["tag"] == tag
