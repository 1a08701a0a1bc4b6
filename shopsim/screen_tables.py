"""Tables of an answer that a screen shows otherwise than column by column, as text."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from shopsim.answers import Answer
from shopsim.answers.learning_rows import TYPICAL
from shopsim.answers.plan_of_days import LINES, NIGHTS, NO_FITS, PLANS, ROUNDS
from shopsim.answers.what_moves_words import say_factor
from shopsim.columns import estimate_keys, find_table
from shopsim.say import say_chance, say_learned, say_number, say_range, say_share

#: Parts of the time of a piece that a screen shows.
MAX_PARTS = 12

#: Rows of what moves the date that a screen shows.
MAX_FACTORS = 12


def together_table(table: pd.DataFrame) -> pd.DataFrame:
    """What promising each order or all of them comes to."""
    return pd.DataFrame(
        {
            "each is promised": table["promised"],
            "the latest is": table["last"],
            "each kept": [f"at least {say_chance(chance)}" for chance in table["each_chance"]],
            "all kept": [say_chance(chance) for chance in table["all_chance"]],
        }
    ).astype("str")


def all_buyers_table(table: pd.DataFrame) -> pd.DataFrame:
    """The whole book: how many orders, the window of all buyers alike, and one date for everybody."""
    row = table.to_dict("records")[0]
    return pd.DataFrame(
        {
            "orders": [f"{row['least_orders']} to {row['most_orders']}"],
            "likely": [str(row["likely_orders"])],
            "ships from": [row["ship_from"]],
            "to": [row["ship_to"]],
            "one date for all": [row["all_kept"]],
            "kept for all": [say_chance(row["all_kept_chance"])],
        }
    ).astype("str")


def days_tables(answer: Answer) -> dict[str, pd.DataFrame]:
    """What a screen shows beside the days: plans compared, rounds of glue-ups, nights, what does not fit, and the lines of the plan."""
    shown: dict[str, pd.DataFrame] = {}
    plans = answer.tables[PLANS]
    shown[find_table(PLANS).title] = pd.DataFrame(
        {
            "what comes first": [
                f"{row['under']}{' (the days are these)' if row['is_chosen'] else ''}"
                for row in plans.to_dict("records")
            ],
            "average, day": [say_number(value, 1) for value in plans["average_ship_day"]],
            "last": [say_number(value, 1) for value in plans["last_ship_day"]],
            "idle h": [say_number(value, 1) for value in plans["idle_h"]],
            "average sooner, days": [_say_estimate(row, "average_saved_days") for row in plans.to_dict("records")],
            "last sooner, days": [_say_estimate(row, "last_saved_days") for row in plans.to_dict("records")],
            "likely end above the bound": [say_share(value) for value in plans["above_bound_share"]],
        }
    ).astype("str")
    rounds = answer.tables[ROUNDS]
    if len(rounds):
        shown[find_table(ROUNDS).title] = pd.DataFrame(
            {
                "round": rounds["round"].astype("str"),
                "begin": [f"{when:%a %d %b %H:%M}" for when in rounds["from"]],
                "what": rounds["what"],
                "clamps": rounds["clamps"],
                "off": [
                    f"{first:%a %d %b %H:%M}" + (f" to {last:%a %d %b %H:%M}" if last != first else "")
                    for first, last in zip(rounds["off_from"], rounds["off_until"], strict=True)
                ],
                "waits for clamps": ["yes" if waited else "" for waited in rounds["waited"]],
                "caution": rounds["caution"],
            }
        ).astype("str")
    for key, heading in ((NIGHTS, "free"), (NO_FITS, "not from")):
        table = answer.tables[key]
        if len(table):
            when = table["until" if key == NIGHTS else "from"]
            shown[find_table(key).title] = pd.DataFrame(
                {
                    "day": [f"{day:%a %d %b}" for day in table["day"]],
                    "operation": table["operation"],
                    "batch": ["" if pd.isna(batch) else str(batch) for batch in table["batch"]],
                    "pieces": table["pieces"],
                    **({"what": table["what"]} if key == NIGHTS else {}),
                    heading: [f"{one:%a %d %b %H:%M}" for one in when],
                }
            ).astype("str")
    lines = answer.tables[LINES]
    if len(lines):
        shown[find_table(LINES).title] = pd.DataFrame(
            {
                "line": lines["number"].astype("str"),
                "operation": lines["operation"],
                "batch": ["" if pd.isna(batch) else str(batch) for batch in lines["batch"]],
                **({"design": lines["design"]} if lines["design"].any() else {}),
                **({"not before": lines["not_before"]} if lines["not_before"].any() else {}),
            }
        ).astype("str")
    return shown


def _say_estimate(row: Mapping[Any, Any], name: str) -> str:
    value, low, high, unseen = (row[key] for key in estimate_keys(name))
    return say_range(value, low, high, unseen)


def from_now_table(rows: pd.DataFrame) -> pd.DataFrame:
    """The promises of a run under way as text: what is due, its chances at the outset, last time and now, and the window from now."""

    def chance(value: float) -> str:
        return "" if pd.isna(value) else say_chance(float(value))

    shown = pd.DataFrame(
        {
            "order": rows["order"].astype("str"),
            "design": rows["design"] if rows["design"].nunique() > 1 else "",
            "option": rows["option"],
            "pieces": rows["quantity"].astype("str") if (rows["quantity"] > 1).any() else "",
            "due": rows["due"],
            "stands": rows["stands"],
            "at the outset": rows["chance_then"].map(chance),
            "last time": rows["chance_last"].map(chance),
            "now": [
                "" if stands == "shipped" else chance(value)
                for stands, value in zip(rows["stands"], rows["chance_now"], strict=True)
            ],
            "shipped": rows["shipped"],
            "ships from": rows["ship_from"],
            "to": rows["ship_to"],
            "new date": [
                promise if stands in ("late", "at risk") else ""
                for stands, promise in zip(rows["stands"], rows["promise"], strict=True)
            ],
        }
    ).astype("str")
    return shown.loc[:, [bool((shown[name] != "").any()) for name in shown]]


def bench_table(table: pd.DataFrame) -> pd.DataFrame:
    """What is on the bench, or a note to a buyer, as text; columns with nothing in any row are left out."""
    shown = table.copy()
    if "minutes" in shown:
        shown["minutes"] = [say_number(float(value)) for value in table["minutes"]]
    shown = shown.astype("str").rename(columns=lambda name: str(name).replace("_", " "))
    return shown.loc[:, [bool((shown[name] != "").any()) for name in shown]]


def lead_times_table(table: pd.DataFrame) -> pd.DataFrame:
    """A row an order, a column a batch size, with its days."""
    cells: dict[str, list[str]] = {}
    for name, rows in table.groupby("batch", sort=False):
        cells.setdefault("order", [str(order) for order in rows["order"]])
        days = rows[["lead_days_p10", "lead_days_p50", "lead_days_p90"]]
        cells[str(name)] = [" / ".join(say_number(value) for value in row) for row in days.itertuples(index=False)]
    return pd.DataFrame(cells).astype("str")


def time_of_piece_table(table: pd.DataFrame) -> pd.DataFrame:
    """The largest parts of the time of a piece; the small ones as one row."""
    rows = [
        (f"{part}: {detail}" if detail else part, days, share)
        for part, detail, days, share in zip(table["part"], table["detail"], table["days"], table["share"], strict=True)
    ]
    if len(rows) > MAX_PARTS:
        rest = rows[MAX_PARTS - 1 :]
        rows = [
            *rows[: MAX_PARTS - 1],
            (f"{len(rest)} others", sum(row[1] for row in rest), sum(row[2] for row in rest)),
        ]
    rows.append(("together", sum(row[1] for row in rows), sum(row[2] for row in rows)))
    return pd.DataFrame(
        {
            "part": [name for name, _, _ in rows],
            "days": [say_number(days, 2) for _, days, _ in rows],
            "share": [say_share(share) for _, _, share in rows],
        }
    ).astype("str")


def what_moves_screen(answer: Answer) -> pd.DataFrame:
    """The table of what moves the date for a screen, as text: the largest shares, and all that is to be timed first."""
    rows = []
    shown = answer.rows["time_first"].notna().to_numpy() | (np.arange(len(answer.rows)) < MAX_FACTORS)
    for row in answer.rows[shown].to_dict("records"):
        first = row["time_first"]
        rows.append(
            {
                "what": say_factor(row),
                "share": say_share(row["share"]),
                "time first": "" if pd.isna(first) else str(first),
                "window now, days": str(row["window_days"]),
                "then": "" if pd.isna(row["window_then_days"]) else str(row["window_then_days"]),
            }
        )
    return pd.DataFrame(rows).astype("str")


def lesson_screen(answer: Answer) -> pd.DataFrame:
    """The table of what logs teach for a screen, as text; operations without a log are counted in one row."""
    rows = []
    unlogged = 0
    for row in answer.rows.to_dict("records"):
        if row["what"] == TYPICAL and not row["logged"]:
            unlogged += 1
            continue
        rows.append(
            {
                "what": f"{row['what']} {row['name']}".strip(),
                "unit": "" if row["unit"] == "share" else row["unit"],
                "before": _say_span(row, "before"),
                "after": _say_span(row, "after"),
                "logged": str(row["logged"]) if row["logged"] else "",
                "remark": row["remark"],
            }
        )
    if unlogged:
        others = "1 operation" if unlogged == 1 else f"{unlogged} operations"
        rows.append({"what": f"{others} not timed", "after": "as all guesses"})
    table = pd.DataFrame(rows).fillna("").astype("str")
    return table if table["remark"].any() else table.drop(columns="remark")


def _say_span(row: Mapping[Any, Any], when: str) -> str:
    """A value with its 80 % interval: ``12.4 (10.1 to 16.0)``."""
    values = [float(row[when]), float(row[f"{when}_low"]), float(row[f"{when}_high"])]
    said = [say_learned(value, str(row["unit"])) for value in values]
    return said[0] if values[1] == values[2] else f"{said[0]} ({said[1]} to {said[2]})"
