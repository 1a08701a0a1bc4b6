"""Changes to a scenario as plain data of which it is known what they do to a run, and how two runs are compared."""

from __future__ import annotations

import copy
import dataclasses
import datetime as dt
import hashlib
import re
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from shopsim import RunResult, Scenario, run_once
from shopsim.engine.record import RunRecord
from shopsim.scenario import OrderBook

Data = dict[str, Any]

#: Columns of a record that hold minutes; the others hold numbers of workers, stations and clamps.
MINUTES = (
    "ready", "start", "end", "setup_min", "work_min", "clamps_off", "unclamp_start", "unclamp_end", "done", "wet_until",
    "batch_opened",
)  # fmt: skip
NUMBERS = ("workers", "unclamp_worker", "station_unit", "clamps")
#: Where a record keeps who worked when on what was broken off.
STRETCHES = ("stretches", "unclamp_stretches")


def run_data(data: Data, **how: Any) -> RunResult:
    """``run_once`` of a scenario as plain data."""
    return run_once(Scenario.model_validate(data), **how)


def designs_of(data: Data) -> list[Data]:
    """The designs, however they are written."""
    return data["designs"] if "designs" in data else [data["design"]]


# ---- comparing


def find_differences(one: RunRecord, other: RunRecord, times: float = 1.0) -> list[str]:
    """Columns in which the second record is not, bit for bit, the first with every time multiplied."""
    wrong = [name for name in MINUTES if not _same(getattr(one, name) * times, getattr(other, name))]
    wrong += [name for name in NUMBERS if not _same(getattr(one, name), getattr(other, name))]
    for name in STRETCHES:
        mine = getattr(one, name).items()
        scaled = {task: [(a * times, b * times, crew) for a, b, crew in spans] for task, spans in mine}
        wrong += [name] if scaled != getattr(other, name) else []
    return wrong


def _same(one: np.ndarray, other: np.ndarray) -> bool:
    return one.shape == other.shape and bool(np.array_equal(one, other, equal_nan=one.dtype.kind == "f"))


def digest_record(record: RunRecord) -> str:
    """A number that two records share only if they agree bit for bit."""
    digest = hashlib.sha256()
    for name in (*MINUTES, *NUMBERS):
        digest.update(np.ascontiguousarray(getattr(record, name)).tobytes())
    for name in STRETCHES:
        digest.update(repr(sorted(getattr(record, name).items())).encode())
    return digest.hexdigest()


def write_orders(book: OrderBook) -> bytes:
    """The book as the CSV file that it would have been read from."""
    rows = ["id,date,quantity"]
    for order in book.orders:
        hour, minute = divmod(int(order.minute), 60)
        rows.append(f"{order.id},{order.date} {hour:02d}:{minute:02d},{order.quantity}")
    return "\n".join(rows).encode()


# ---- changing


def _change(value: Any, change: Callable[[Any], Any]) -> Any:
    """A copy with every value that is not a table or a list changed."""
    if isinstance(value, dict):
        return {key: _change(item, change) for key, item in value.items()}
    if isinstance(value, list):
        return [_change(item, change) for item in value]
    return change(value)


def shift_weeks(data: Data, weeks: int) -> Data:
    """Every date so many weeks later."""
    by = dt.timedelta(weeks=weeks)

    def later(text: str) -> str:
        return f"{dt.date.fromisoformat(text) + by}"

    def change(value: Any) -> Any:
        if isinstance(value, str) and re.fullmatch(r"\d{4}-\d\d-\d\d(\.\.\d{4}-\d\d-\d\d)?", value):
            return "..".join(later(part) for part in value.split(".."))
        if isinstance(value, OrderBook):
            moved = tuple(dataclasses.replace(order, date=order.date + by) for order in value.orders)
            return dataclasses.replace(value, orders=moved)
        return value

    changed: Data = _change(data, change)
    return changed


def double_times(data: Data) -> Data:
    """Every stretch of time twice as long."""

    def change(value: Any) -> Any:
        if isinstance(value, str) and re.fullmatch(r"[\d/ ]+ (min|h)", value):
            return re.sub(r"\d+", lambda number: str(2 * int(number[0])), value)
        return value

    changed: Data = _change(data, change)
    return changed


def rename(data: Data, kinds: tuple[str, ...], new: Mapping[tuple[str, str], str]) -> Data:
    """Things of these kinds called by other names, everywhere; ``new`` gives them by (kind, old name)."""
    data = copy.deepcopy(data)

    def named(kind: str, old: str) -> str:
        return new[kind, old] if kind in kinds else old

    shop = data["shop"]
    for kind, key in (("worker", "workers"), ("station", "stations"), ("rack", "racks"), ("clamp", "clamps")):
        for thing in shop[key]:
            thing["name"] = named(kind, thing["name"])
    for worker in shop["workers"]:
        if "can" in worker:
            worker["can"] = [named("operation", name) for name in worker["can"]]
    for design in designs_of(data):
        design["name"] = named("design", design["name"])
        for operation in design["operations"]:
            _rename_operation(operation, list(design["parts"]), named)
        design["parts"] = {named("part", name): count for name, count in design["parts"].items()}
    for line in data["run"].get("lines", []):
        line["design"] = named("design", line["design"])
    for material in data.get("materials", []):
        material["name"] = named("material", material["name"])
        material["needed_by"] = [named("operation", name) for name in material["needed_by"]]
    return data


def _rename_operation(operation: Data, parts: list[str], named: Callable[[str, str], str]) -> None:
    operation["name"] = named("operation", operation["name"])
    if "after" in operation:
        operation["after"] = [named("operation", name) for name in operation["after"]]
    if operation.get("per") in parts:
        operation["per"] = named("part", operation["per"])
    for key, kind in (("station", "station"), ("rest", "rack")):
        if key in operation:
            operation[key] = named(kind, operation[key])
    for need in operation.get("clamps", []):
        if "kind" in need:
            need["kind"] = named("clamp", need["kind"])


def list_names(data: Data) -> list[tuple[str, str]]:
    """Every (kind, name) that ``rename`` can change, each once."""
    shop = data["shop"]
    names = [("worker", thing["name"]) for thing in shop["workers"]]
    names += [("station", thing["name"]) for thing in shop["stations"]]
    names += [("rack", thing["name"]) for thing in shop["racks"]]
    names += [("clamp", thing["name"]) for thing in shop["clamps"]]
    for design in designs_of(data):
        names.append(("design", design["name"]))
        names += [("part", name) for name in design["parts"]]
        names += [("operation", operation["name"]) for operation in design["operations"]]
    names += [("material", material["name"]) for material in data.get("materials", [])]
    return list(dict.fromkeys(names))
