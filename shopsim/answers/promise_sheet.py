"""The promise sheet: one row an order, as a maker pins it up or keeps it in a spreadsheet; spare pieces below."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any

import pandas as pd

from shopsim.say import cut_chance
from shopsim.study.order_queue import SparePieces

#: Key of the table.
SHEET = "promise_sheet"
#: Stands in place of an order's id on the rows of pieces that nobody has ordered.
SPARE = "spare"


def build_sheet(rows: pd.DataFrame, spare: Iterable[SparePieces]) -> pd.DataFrame:
    """Order, design, date, quantity, destination, option, batch, expected, ships_from, ships_to, promise, chance_kept and more.

    ``rows``: those of the delivery answer, one an order. Days are dates, chances shares in 0..1, cut
    (never rounded up) to whole percent. Where it is known also ``told``, ``late``, and ``arrives_from``, ``arrives_to``,
    ``arrives_by`` with its ``arrival_chance``. Every date but those of arrival is of shipping. Pieces that are
    left over follow, in ``order`` called "spare", with no dates; nobody is promised them. Columns that are empty in all
    rows are kept, so that sheets of several runs can be put below each other.
    """
    sheet = []
    for row in rows.to_dict("records"):
        line: dict[str, Any] = {
            "order": row["order"],
            "design": row["design"],
            "date": _date(row["date"]),
            "quantity": row["quantity"],
            "destination": row["destination"],
            "option": row["option"],
            "batch": row["batch"],
            "expected": _date(row["expected"]),
            "ships_from": _date(row["ship_from"]),
            "ships_to": _date(row["ship_to"]),
            "promise": _date(row["promise"]),
            "chance_kept": cut_chance(row["chance_kept"]),
        }
        if "told" in row:
            line["told"] = _date(row["told"])
            line["late"] = "late" if row["late"] else ""
        if "arrive_promise" in row:
            line["arrives_from"] = _date(row["arrive_from"])
            line["arrives_to"] = _date(row["arrive_to"])
            line["arrives_by"] = _date(row["arrive_promise"])
            line["arrival_chance"] = cut_chance(row["arrive_chance"])
        sheet.append(line)
    for pieces in spare:
        left = dict.fromkeys(sheet[0])
        left |= {
            "order": SPARE, "design": pieces.design, "quantity": pieces.quantity, "destination": "",
            "option": pieces.option, "batch": str(pieces.batch),
        }  # fmt: skip
        sheet.append(left)
    table = pd.DataFrame(sheet)
    for name in table:
        if name in ("chance_kept", "arrival_chance"):
            table[name] = table[name].astype("float64")
        elif name == "quantity":
            table[name] = table[name].astype("int64")
        elif name in ("order", "design", "destination", "option", "batch", "late"):
            table[name] = table[name].fillna("").astype("str")
        else:
            table[name] = pd.Series(pd.to_datetime(table[name]), dtype="datetime64[s]")
    return table


def _date(text: str) -> dt.date | None:
    return dt.date.fromisoformat(text) if text else None
