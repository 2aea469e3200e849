"""Check a plan file against the folder of spreadsheets it was made from: `plan_file_checker.py FOLDER PLAN.json`.

Written from the description of the files alone; it imports nothing of the program. Prints every fault and exits with 1
when there is one, with 2 when the files cannot be read at all.

What the files leave open is taken in the planner's favour: strips worked out from a measured lawn are not compared
with `strips.csv`, the grass of a lawn of which the plan names no strip may be missing, areas may be rounded to the
decimals they are shown with, `area_needed_m2` may count short strips or not, and `area_from_stock_m2` may be the
pieces cut from stock or the stock items they were cut from.
"""

from __future__ import annotations

import csv
import json
import sys
from collections import Counter, defaultdict
from collections.abc import Iterable
from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Decimal
from itertools import combinations
from pathlib import Path
from typing import Any

PENNY = Decimal("0.01")
MILLION = 1_000_000
SHAPE = ("across_mm", "along_mm", "width_mm", "length_mm")
KEYS = {
    "products": ("product", "status", "net_cost", "lower_bound", "gap", "seconds"),
    "orders": (["order", "product", "supplier", "form", "width_mm", "length_mm", "price", "order_by", "arrives_on"]),
    "pieces": ("job", "strip", "number", "source", "batch", *SHAPE),
    "stock_used": ("source", "value"),
    "leftovers": ("source", *SHAPE, "keep", "value", "reason"),
    "short": ("job", "strip", "count", "reason"),
}
TOTALS = ("net_cost", "order_cost", "area_needed_m2", "area_ordered_m2", "area_from_stock_m2", "offcuts_used")


def rows(folder: Path, name: str) -> list[dict[str, str]]:
    """Rows of one spreadsheet; none when the file is not there."""
    path = folder / name
    if not path.exists():
        return []
    with path.open(encoding="utf-8-sig", newline="") as file:
        return [{key.strip(): (value or "").strip() for key, value in row.items()} for row in csv.DictReader(file)]


def mm(metres: str) -> int:
    return int(Decimal(metres) * 1000)


class Yard:
    """The spreadsheets, by what the plan file refers to."""

    def __init__(self, folder: Path) -> None:
        self.supply = rows(folder, "supply.csv")
        self.stock = {row["tag"]: row for row in rows(folder, "stock.csv")}
        self.jobs = {row["job"]: row for row in rows(folder, "jobs.csv")}
        self.measured = {row["job"] for row in rows(folder, "lawns.csv")}
        self.strips: dict[str, dict[str, tuple[int, int, int]]] = defaultdict(dict)
        for row in rows(folder, "strips.csv"):
            size = (mm(row["width_m"]), mm(row["length_m"]), int(row.get("count") or 1))
            self.strips[row["job"]][row["strip"]] = size


class PlanFile:
    """One plan file under suspicion, and the faults found in it."""

    def __init__(self, yard: Yard, plan: dict[str, Any]) -> None:
        self.yard, self.plan = yard, plan
        self.faults: list[str] = []
        self.first, self.last = date.min, date.max
        self.sizes: dict[str, tuple[int, int]] = {}
        self.orders: dict[str, dict[str, Any]] = {}
        self.by_source: dict[str, list[dict[str, Any]]] = defaultdict(list)
        self.left_by_source: dict[str, list[dict[str, Any]]] = defaultdict(list)

    def fault(self, where: str, what: str) -> None:
        self.faults.append(f"{where}: {what}")

    def check(self) -> list[str]:
        """Every fault; when the file has not the keys it should have, only those."""
        self.shape()
        if self.faults:
            return self.faults
        self.first = date.fromisoformat(self.plan["window"]["from"])
        self.last = date.fromisoformat(self.plan["window"]["to"])
        self.orders = {order["order"]: order for order in self.plan["orders"]}
        self.sizes = {key: (order["width_mm"], order["length_mm"]) for key, order in self.orders.items()}
        self.sizes |= {tag: (mm(row["width_m"]), mm(row["length_m"])) for tag, row in self.yard.stock.items()}
        for piece in self.plan["pieces"]:
            self.by_source[piece["source"]].append(piece)
        for left in self.plan["leftovers"]:
            self.left_by_source[left["source"]].append(left)
        self.coverage()
        self.piece_sizes()
        self.sources()
        for key in self.by_source:
            if key in self.sizes:
                self.geometry(key)
        self.batches()
        self.purchases()
        self.layouts()
        self.money()
        self.areas()
        return self.faults

    # --- what keys there are

    def shape(self) -> None:
        plan = self.plan
        if (plan.get("format"), plan.get("version")) != ("stockplan-plan", 1):
            self.fault("file", f"is {plan.get('format')!r} {plan.get('version')!r}; would be 'stockplan-plan' 1")
        if not isinstance(plan.get("currency"), str):
            self.fault("file", "has no currency")
        if not {"from", "to"} <= set(plan.get("window", ())):
            self.fault("file", "has no window from and to")
        for part, keys in KEYS.items():
            if not isinstance(plan.get(part), list):
                self.fault(part, "is missing")
                continue
            for number, entry in enumerate(plan[part]):
                for key in keys:
                    if key not in entry:
                        self.fault(f"{part}[{number}]", f"has no {key}")
                    elif key.endswith("_mm") and type(entry[key]) is not int:
                        self.fault(f"{part}[{number}]", f"{key} is {entry[key]!r}; would be whole millimetres")
        for key in TOTALS:
            if key not in plan.get("totals", {}):
                self.fault("totals", f"has no {key}")

    # --- coverage, size

    def wanted(self) -> dict[str, dict[str, Any]]:
        return {
            code: job
            for code, job in self.yard.jobs.items()
            if self.first <= date.fromisoformat(job["lay_on"]) <= self.last
        }

    def coverage(self) -> None:
        cut = Counter((piece["job"], piece["strip"], piece["number"]) for piece in self.plan["pieces"])
        short: Counter[tuple[str, str]] = Counter()
        for entry in self.plan["short"]:
            short[entry["job"], entry["strip"]] += entry["count"]
            if entry["count"] < 1 or not str(entry["reason"]).strip():
                self.fault(f"short {entry['job']} {entry['strip']}", "has no count or no reason")
        before: Counter[tuple[str, str]] = Counter()
        for entry in self.plan.get("cut_already", ()):
            before[entry["job"], entry["strip"]] += entry["count"]
        jobs = self.wanted()
        for code in jobs:
            for strip, (_, _, whole) in self.yard.strips.get(code, {}).items():
                count = whole - before[code, strip]
                times = [cut[code, strip, number] for number in range(before[code, strip] + 1, whole + 1)]
                if max(times, default=0) > 1:
                    self.fault(f"{code} {strip}", f"copies are cut {times} times")
                covered = sum(time > 0 for time in times)
                if covered + short[code, strip] != count:
                    self.fault(f"{code} {strip}", f"{covered} cut and {short[code, strip]} short; would be {count}")
                if covered and short[code, strip]:
                    self.fault(f"{code} {strip}", "is partly in pieces and partly in short")
        for code, strip, number in cut:
            self.known(code, strip, number)
        for code, strip in short:
            self.known(code, strip, 1)
        self.products(jobs)

    def products(self, jobs: dict[str, dict[str, Any]]) -> None:
        """Once each those with a strip in the window; of a job whose lawns nothing can lay there is none."""
        planned = [entry["product"] for entry in self.plan["products"]]
        named = {entry["job"] for part in ("pieces", "short", "layouts") for entry in self.plan.get(part, ())}
        possible = {job["product"] for job in jobs.values()}
        expected = {job["product"] for code, job in jobs.items() if code in named or self.yard.strips.get(code)}
        if len(planned) != len(set(planned)) or not expected <= set(planned) <= possible:
            self.fault("products", f"are {planned}; would be {sorted(expected)}, once each")

    def known(self, code: str, strip: str, number: int) -> None:
        count = self.yard.strips.get(code, {}).get(strip, (0, 0, 0))[2]
        if code not in self.wanted():
            self.fault(f"{code} {strip}", "is in the plan, but the job is not in the window")
        elif code not in self.yard.measured and not 1 <= number <= count:
            self.fault(f"{code} {strip} no. {number}", f"the job has {count} of it")

    def piece_sizes(self) -> None:
        for piece in self.plan["pieces"]:
            strip = self.yard.strips.get(piece["job"], {}).get(piece["strip"])
            found = (piece["width_mm"], piece["length_mm"])
            if strip is not None and found != strip[:2]:
                turned = " (turned)" if found == (strip[1], strip[0]) else ""
                self.fault(f"{piece['job']} {piece['strip']}", f"is {found} mm{turned}; would be {strip[:2]}")

    def layouts(self) -> None:
        """A job's pieces are the strips of the layout picked for it, and no two of them lie over each other."""
        short = {entry["job"] for entry in self.plan["short"]}
        for entry in self.plan.get("layouts", ()):
            code, strips = entry["job"], [strip for lawn in entry["lawns"] for strip in lawn["strips"]]
            laid = Counter((s["strip"], s["number"], s["width_mm"], s["length_mm"]) for s in strips)
            cut = Counter(
                (p["strip"], p["number"], p["width_mm"], p["length_mm"])
                for p in self.plan["pieces"]
                if p["job"] == code
            )
            begun = any(done["job"] == code for done in self.plan.get("cut_already", ()))
            if cut != (Counter() if code in short else laid) and not begun:
                self.fault(code, f"is laid with {sorted(laid)}; cut are {sorted(cut)}")
            if amount([entry["seam_cost"]]) != (0 if code in short else amount([entry["seam_cost_when_laid"]])):
                self.fault(code, f"seams are put at {entry['seam_cost']}")
            for lawn in entry["lawns"]:
                for one, other in combinations(lawn["strips"], 2):
                    if all(
                        one[f"{way}_from_mm"] < other[f"{way}_to_mm"] and other[f"{way}_from_mm"] < one[f"{way}_to_mm"]
                        for way in ("across", "along")
                    ):
                        self.fault(f"{code} {lawn['lawn']}", f"{one['strip']} lies over {other['strip']}")

    # --- sources and where things lie on them

    def sources(self) -> None:
        for key in self.orders.keys() & self.yard.stock.keys():
            self.fault(key, "is an order and a stock tag")
        for key, pieces in self.by_source.items():
            source = self.orders.get(key) or self.yard.stock.get(key)
            if source is None:
                self.fault(key, "is neither an order nor a stock tag")
                continue
            for piece in pieces:
                job = self.yard.jobs.get(piece["job"])
                if job is not None and job["product"] != source["product"]:
                    self.fault(f"{piece['job']} on {key}", f"wants {job['product']}; it is {source['product']}")
        for key in self.left_by_source.keys() - self.by_source.keys():
            self.fault(key, "has leftovers but no piece is cut from it")
        used = Counter(entry["source"] for entry in self.plan["stock_used"])
        for key in used.keys() | (self.by_source.keys() & self.yard.stock.keys()):
            if used[key] != 1 or key not in self.by_source or key not in self.yard.stock:
                self.fault(key, f"is {used[key]} times in stock_used and gives {len(self.by_source[key])} pieces")

    def geometry(self, key: str) -> None:
        width, length = self.sizes[key]
        parts = [(*(piece[name] for name in SHAPE), True) for piece in self.by_source[key]]
        parts += [(*(left[name] for name in SHAPE), False) for left in self.left_by_source[key]]
        for x, y, w, h, _ in parts:
            if w <= 0 or h <= 0 or x < 0 or y < 0 or x + w > width or y + h > length:
                self.fault(key, f"{w} × {h} at {x}, {y} does not lie within {width} × {length}")
        for (x, y, w, h, _), (a, b, c, d, _) in combinations(parts, 2):
            if min(x + w, a + c) > max(x, a) and min(y + h, b + d) > max(y, b):
                self.fault(key, f"{w} × {h} at {x}, {y} overlaps {c} × {d} at {a}, {b}")
        covered = sum(w * h for _, _, w, h, _ in parts)
        if covered != width * length:
            self.fault(key, f"pieces and leftovers are {covered} mm²; it is {width * length}")
        if not comes_apart(parts):
            self.fault(key, "cannot be cut by crosscut, rip, crosscut and trim")

    # --- batches, purchases

    def batches(self) -> None:
        found: dict[str, set[tuple[str, str]]] = defaultdict(set)
        shown: dict[str, set[str]] = defaultdict(set)
        names: dict[str, set[str]] = defaultdict(set)
        for piece in self.plan["pieces"]:
            key = piece["source"]
            shown[piece["job"]].add(piece["batch"])
            if key in self.orders:
                found[piece["job"]].add(("bought", self.orders[key]["product"]))
                names[self.orders[key]["product"]].add(piece["batch"])
            elif key in self.yard.stock:
                batch = self.yard.stock[key]["batch"]
                found[piece["job"]].add(("stock", batch) if batch else ("unknown", key))
                if batch and piece["batch"] != batch:
                    self.fault(f"{piece['job']} on {key}", f"is shown as {piece['batch']!r}; is {batch!r}")
        for code, dyes in found.items():
            rule = self.yard.jobs.get(code, {}).get("batch_rule") or "one"
            if rule == "one" and (len(dyes) > 1 or len(shown[code]) > 1):
                self.fault(code, f"wants one batch; has {sorted(dyes)}, shown as {sorted(shown[code])}")
        for product, batches in names.items():
            if len(batches) > 1:
                self.fault(product, f"newly bought grass is shown as several batches: {sorted(batches)}")

    def purchases(self) -> None:
        for key, count in Counter(order["order"] for order in self.plan["orders"]).items():
            if count > 1:
                self.fault(key, f"names {count} orders")
        for order in self.plan["orders"]:
            key = order["order"]
            if not any(sold_as(row, order) for row in self.yard.supply):
                self.fault(key, "matches no row of supply.csv in supplier, form, size, price and days")
            if not self.by_source[key]:
                self.fault(key, "serves no piece")
            arrives = date.fromisoformat(order["arrives_on"])
            for code in sorted({piece["job"] for piece in self.by_source[key]} & self.yard.jobs.keys()):
                if arrives >= date.fromisoformat(self.yard.jobs[code]["lay_on"]):
                    self.fault(key, f"arrives on {arrives}; {code} is laid on {self.yard.jobs[code]['lay_on']}")

    # --- money, areas

    def money(self) -> None:
        plan, totals = self.plan, self.plan["totals"]
        bought = amount(order["price"] for order in plan["orders"])
        used = amount(entry["value"] for entry in plan["stock_used"])
        left = amount(entry["value"] for entry in plan["leftovers"])
        net = amount(entry["net_cost"] for entry in plan["products"])
        seams = amount(entry["seam_cost"] for entry in plan.get("layouts", ()))
        cutting = net - bought - used + left - seams
        self.product_money()
        values = [*plan["stock_used"], *plan["leftovers"]]
        if any(amount([entry["value"]]) < 0 for entry in values):
            self.fault("money", "something is worth less than nothing")
        if amount([totals["net_cost"]]) != net:
            self.fault("totals", f"net_cost is {totals['net_cost']}; the products' add up to {net}")
        if amount([totals["order_cost"]]) != bought:
            self.fault("totals", f"order_cost is {totals['order_cost']}; the orders add up to {bought}")
        if cutting < 0:
            self.fault("money", f"orders {bought} + stock {used} - leftovers {left} is above the net cost, {net}")
        figures = {key: amount([value]) for key, value in totals.items() if isinstance(value, int | float)}
        parts = [("stock used", used), ("leftovers", left), ("cutting", cutting)]
        for name, value in [*parts, ("seams", seams)] if plan.get("layouts") else parts:
            if value not in figures.values():
                self.fault("totals", f"{name}, {value} when worked out from the file, is not among them")
        for key, value in figures.items():
            if "cut" in key and "cost" in key and value != cutting:
                self.fault("totals", f"{key} is {value}; net cost less its other parts is {cutting}")
        for entry in plan["leftovers"]:
            if not isinstance(entry["keep"], bool) or (not entry["keep"] and entry["value"]):
                self.fault(f"leftover on {entry['source']}", f"keep {entry['keep']!r}, value {entry['value']}")
            if not str(entry["reason"]).strip():
                self.fault(f"leftover on {entry['source']}", "has no reason")
        self.bounds()

    def product_money(self) -> None:
        """What no total shows: each product's net cost covers its own orders, stock and leftovers."""
        held = {tag: row["product"] for tag, row in self.yard.stock.items()}
        held |= {key: order["product"] for key, order in self.orders.items()}
        for entry in self.plan["products"]:
            mine = {key for key, product in held.items() if product == entry["product"]}
            rest = amount([entry["net_cost"]])
            rest -= amount(order["price"] for order in self.plan["orders"] if order["order"] in mine)
            rest -= amount(used["value"] for used in self.plan["stock_used"] if used["source"] in mine)
            rest += amount(left["value"] for left in self.plan["leftovers"] if left["source"] in mine)
            if rest < 0:
                self.fault(entry["product"], f"net cost is {-rest} less than its orders + stock - leftovers")

    def bounds(self) -> None:
        short = {
            self.yard.jobs[entry["job"]]["product"] for entry in self.plan["short"] if entry["job"] in self.yard.jobs
        }
        for entry in self.plan["products"]:
            net, lower = amount([entry["net_cost"]]), amount([entry["lower_bound"]])
            where = entry["product"]
            if not 0 <= lower <= net:
                self.fault(where, f"lower bound {lower} is not between 0 and the net cost {net}")
            gap = (net - lower) / net if net > 0 else Decimal(0)
            if abs(Decimal(str(entry["gap"])) - gap) > Decimal("0.000051"):
                self.fault(where, f"gap is {entry['gap']}; cost and bound make it {gap:.6f}")
            proven = net == lower or gap < Decimal("0.000001")
            status = "short" if where in short else "optimal" if proven else "feasible"
            if entry["status"] != status:
                self.fault(where, f"is called {entry['status']!r}; would be {status!r}")

    def areas(self) -> None:
        totals, jobs = self.plan["totals"], self.wanted()
        pieces = sum(piece["width_mm"] * piece["length_mm"] for piece in self.plan["pieces"])
        strips = sum(w * h * n for code in jobs for w, h, n in self.yard.strips.get(code, {}).values())
        sizes = {(code, strip): w * h for code in jobs for strip, (w, h, _) in self.yard.strips.get(code, {}).items()}
        before = sum(
            sizes.get((entry["job"], entry["strip"]), 0) * entry["count"] for entry in self.plan.get("cut_already", ())
        )
        if not self.yard.measured & jobs.keys():
            self.area("area_needed_m2", {pieces, strips - before})
        ordered = sum(order["width_mm"] * order["length_mm"] for order in self.plan["orders"])
        self.area("area_ordered_m2", {ordered})
        touched = self.by_source.keys() & self.yard.stock.keys()
        from_stock = sum(p["width_mm"] * p["length_mm"] for key in touched for p in self.by_source[key])
        self.area("area_from_stock_m2", {from_stock, sum(w * h for w, h in (self.sizes[key] for key in touched))})
        offcuts = sum(self.yard.stock[key]["form"] == "offcut" for key in touched)
        if totals["offcuts_used"] != offcuts:
            self.fault("totals", f"offcuts_used is {totals['offcuts_used']}; pieces come from {offcuts}")

    def area(self, key: str, right: set[int]) -> None:
        found = Decimal(str(self.plan["totals"][key]))
        if all(abs(found * MILLION - value) > MILLION // 20 for value in right):
            self.fault(
                "totals", f"{key} is {found}; would be {' or '.join(f'{v / MILLION:.3f}' for v in sorted(right))}"
            )


def amount(values: Iterable[Any]) -> Decimal:
    """Add amounts of money, each read as it is printed."""
    return sum((Decimal(str(value)).quantize(PENNY) for value in values), Decimal(0))


def sold_as(row: dict[str, str], order: dict[str, Any]) -> bool:
    """Whether a row of supply.csv sells just this, at this price, in these days."""
    if (
        any(row[key] != order[key] for key in ("product", "supplier", "form"))
        or mm(row["width_m"]) != order["width_mm"]
    ):
        return False
    length, longest, price = order["length_mm"], mm(row["length_m"]), Decimal(row["price"])
    if row["form"] == "roll":
        fits = length == longest
    else:
        fits = 1000 <= length <= longest and length % 100 == 0
        price = (price * length / 1000).quantize(PENNY, ROUND_HALF_UP)
    days = timedelta(days=int(row["lead_days"]))
    in_time = date.fromisoformat(order["order_by"]) + days == date.fromisoformat(order["arrives_on"])
    return fits and in_time and amount([order["price"]]) == price


Part = tuple[int, int, int, int, bool]


def comes_apart(parts: list[Any], stage: int = 1) -> bool:
    """Whether rectangles part in the stages crosscut (1), rip (2), crosscut (3), and a trim of one piece (4)."""
    if len(parts) < 2:
        return True
    axis = 0 if stage in (2, 4) else 1
    starts = sorted({part[axis] for part in parts})
    lines = [at for at in starts[1:] if not any(part[axis] < at < part[axis] + part[axis + 2] for part in parts)]
    if stage == 4:
        return len(parts) == 2 and len(lines) == 1 and parts[0][4] != parts[1][4]
    bands: dict[int, list[Any]] = defaultdict(list)
    for part in parts:
        bands[sum(at <= part[axis] for at in lines)].append(part)
    return all(comes_apart(band, stage + 1) for band in bands.values())


def check_plan_file(folder: Path, plan: Path) -> list[str]:
    """Every fault of a plan file, as text; none when it is sound."""
    return PlanFile(Yard(folder), json.loads(plan.read_text(encoding="utf-8"))).check()


def main(arguments: list[str]) -> int:
    if len(arguments) != 2:
        print("usage: plan_file_checker.py FOLDER PLAN.json", file=sys.stderr)
        return 2
    folder, plan = map(Path, arguments)
    if not (folder / "jobs.csv").exists() or not plan.exists():
        print(f"no jobs.csv in {folder}, or no {plan}", file=sys.stderr)
        return 2
    faults = check_plan_file(folder, plan)
    print("\n".join(faults) if faults else "no fault found")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
