"""Which columns of an answer a screen shows, and how: the whole table goes into CSV and JSON."""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Mapping
from typing import Any

import pandas as pd

from shopsim.answers import Answer
from shopsim.answers.batch_size import BATCH_SIZE, LEAD_TIMES
from shopsim.answers.batches_by import BATCHES_BY
from shopsim.answers.buying import BUYING, CUTTING, ORDERING, PARTS
from shopsim.answers.clamp_words import say_added
from shopsim.answers.clamps_plan import MORE_CLAMPS, STEPS_BEYOND
from shopsim.answers.delivery_words import TOGETHER, WINDOWS
from shopsim.answers.from_now import FROM_NOW, NEXT, NOTES, UNDER_WAY
from shopsim.answers.holdups import HOLDS_BACK, OF_PIECE
from shopsim.answers.levers import COSTS_NOTHING
from shopsim.answers.next_buyer import ALL_BUYERS, NEXT_BUYER
from shopsim.answers.one_run import shorten_plan
from shopsim.answers.order_counts import BY_COUNT
from shopsim.answers.plan_of_days import DAYS
from shopsim.answers.ways_compared import AGAINST, PAYS, WAYS
from shopsim.answers.what_moves import MOVES
from shopsim.answers.words import GENERAL, LATE, LISTING
from shopsim.answers.worth import CASH, CHANGES, COST, WORTH
from shopsim.columns import estimate_keys, find_table
from shopsim.plurals import say_more
from shopsim.questions import find_kind
from shopsim.say import say_amount, say_cell, say_chance, say_heading, say_number, say_range
from shopsim.screen_tables import (
    all_buyers_table,
    bench_table,
    days_tables,
    from_now_table,
    lead_times_table,
    time_of_piece_table,
    together_table,
    what_moves_screen,
)

#: Batch sizes whose lead times a screen shows.
MAX_SIZES = 4

Row = Mapping[str, Any]
#: A column of a screen: its heading, and the text of a row.
Column = tuple[str, Callable[[Row], str]]


def screen_table(answer: Answer) -> pd.DataFrame:
    """The table of an answer for a screen, as text; columns with nothing in any row are left out."""
    if answer.key == MOVES:
        return what_moves_screen(answer)
    if answer.key == DAYS:
        return shorten_plan(answer.rows)
    if answer.key == FROM_NOW:
        return from_now_table(answer.rows)
    columns = _SCREENS.get(answer.key) or _plain_columns(answer.key, answer.rows)
    rows = _told_clamps(answer.rows) if answer.key == MORE_CLAMPS else answer.rows
    return _show(columns, rows.to_dict("records"), rows)


def _told_clamps(rows: pd.DataFrame) -> pd.DataFrame:
    """Without today's clamps as the shop is, where the answer is about clamps under what costs nothing."""
    free = rows["under"] != ""
    return rows[free | (rows["thing"] != "clamps")] if free.any() else rows


def _plain_columns(key: str, table: pd.DataFrame) -> list[Column]:
    """The columns that the entry of the question names, or all, each said as its kind asks; estimates with their intervals."""
    kind = find_kind(key)
    here = [str(name) for name in table.columns]
    names = [name for name in (kind.shown if kind is not None and kind.shown else here) if name in here]
    columns: list[Column] = []
    for name in names:
        ends = estimate_keys(name)
        if any(name in estimate_keys(other)[1:] for other in here if other != name):
            continue
        columns.append((say_heading(name), _range(name) if set(ends) <= set(here) else _said(name)))
    return columns


def _said(name: str) -> Callable[[Row], str]:
    return lambda row: say_cell(name, row[name])


def _show(columns: list[Column], records: list[dict[Hashable, Any]], whole: pd.DataFrame) -> pd.DataFrame:
    """Records as text, a column of the screen each; ``whole``: the table they are of."""
    rows = [{str(key): value for key, value in row.items()} for row in records]
    every = [{str(key): value for key, value in row.items()} for row in whole.to_dict("records")]
    rules = {row["priority"] for row in every if "priority" in row}
    usual = all(row.get("quantity", 1) == 1 for row in every)
    known = {"several": len(rules) > 1, "one_each": usual}
    rows = [{**row, **known} for row in rows]
    shown = {heading: [text(row) for row in rows] for heading, text in columns}
    return pd.DataFrame({heading: cells for heading, cells in shown.items() if any(cells)}).astype("str")


def further_tables(answer: Answer) -> dict[str, pd.DataFrame]:
    """Further tables of an answer that a screen shows, as text, by their titles."""
    shown = {}
    if len(answer.tables.get(LEAD_TIMES, ())):
        table = answer.tables[LEAD_TIMES]
        names = list(dict.fromkeys(table["batch"]))
        first = f", the first {MAX_SIZES} only" if len(names) > MAX_SIZES else ""
        title = f"{find_table(LEAD_TIMES).title}, days: 10 % / 50 % / 90 %{first}"
        shown[title] = lead_times_table(table[table["batch"].isin(names[:MAX_SIZES])])
    if len(answer.tables.get(COSTS_NOTHING, ())) and answer.key != HOLDS_BACK:  # whose table begins with these rows
        shown[find_table(COSTS_NOTHING).title] = _show(
            _COSTS_NOTHING, answer.tables[COSTS_NOTHING].to_dict("records"), answer.tables[COSTS_NOTHING]
        )
    for key, columns in ((PAYS, _PAYS), (AGAINST, _AGAINST)):
        if len(answer.tables.get(key, ())):
            shown[find_table(key).title] = _show(columns, answer.tables[key].to_dict("records"), answer.tables[key])
    if len(answer.tables.get(OF_PIECE, ())):
        shown[find_table(OF_PIECE).title] = time_of_piece_table(answer.tables[OF_PIECE])
    if len(answer.tables.get(STEPS_BEYOND, ())):
        shown[find_table(STEPS_BEYOND).title] = _show(
            _STEPS, _told_clamps(answer.tables[STEPS_BEYOND]).to_dict("records"), answer.rows
        )
    if len(answer.tables.get(TOGETHER, ())) and len(answer.rows) > 1:
        shown[find_table(TOGETHER).title] = together_table(answer.tables[TOGETHER])
    if answer.key == DAYS:
        shown |= days_tables(answer)
    for key in (NEXT, UNDER_WAY, NOTES) if answer.key == FROM_NOW else ():
        if len(answer.tables[key]):
            shown[find_table(key).title] = bench_table(answer.tables[key])
    for key in _AS_THEY_ARE.get(answer.key, ()):
        if len(answer.tables.get(key, ())):
            table = answer.tables[key]
            shown[find_table(key).title] = _show(_plain_columns(key, table), table.to_dict("records"), table)
    if ALL_BUYERS in answer.tables:
        shown[find_table(ALL_BUYERS).title] = all_buyers_table(answer.tables[ALL_BUYERS])
    return shown


def words_heading(row: Row) -> str:
    """What a paragraph of the words to use is for."""
    if row["kind"] == LISTING:
        return "For the listing"
    if row["kind"] == LATE:
        return f"Late note for order {row['order']}"
    return f"For the buyer of order {row['order']}" if row["order"] else "For the next buyer"


def words_text(words: pd.DataFrame) -> str:
    """All words to use as one plain text, each under its heading, with what must be read beside them at the end."""
    rows = [{str(key): value for key, value in row.items()} for row in words.to_dict("records")]
    parts = [f"{words_heading(row)}\n\n{row['text']}\n" for row in rows] + [f"{text}\n" for text in GENERAL]
    return "\n".join(parts)


def _number(name: str, places: int = 0) -> Callable[[Row], str]:
    """A number to so many places; nothing where there is none."""

    def text(row: Row) -> str:
        value = row.get(name)
        return "" if value is None else say_number(value, places)

    return text


def _range(name: str, places: int = 1) -> Callable[[Row], str]:
    """A difference with its interval, ``-4.3 (-5.5 to -3.1)``."""

    def text(row: Row) -> str:
        value, least, most, unseen = (row[key] for key in estimate_keys(name))
        return say_range(value, least, most, unseen, places)

    return text


def _later(name: str) -> Callable[[Row], str]:
    """Days saved said as days later: a saving is a minus."""

    def text(row: Row) -> str:
        saved, least, most, unseen = (row[key] for key in estimate_keys(name))
        return say_range(-saved, -most, -least, unseen)

    return text


def _plain(name: str) -> Callable[[Row], str]:
    return lambda row: str(row.get(name, ""))


def _share(name: str) -> Callable[[Row], str]:
    """A chance in whole percent, cut and not rounded up, so that it never promises more."""
    return lambda row: say_chance(row[name]) if name in row else ""


def _amount(name: str) -> Callable[[Row], str]:
    """How much of a material, as far as its unit bears."""
    return lambda row: say_amount(row[name], str(row["unit"]))


def _batch(row: Row) -> str:
    return f"{row['said']} (now)" if row["is_now"] else str(row["said"])


def _thing(row: Row) -> str:
    """What is tried: ``4 more bar clamps``; with what costs nothing, where it comes first."""
    thing, kind, added = str(row["thing"]), str(row["kind"]), int(row["added"])
    what = say_added(added, kind) if thing == "clamps" else say_more(thing, kind, added)
    return what + (f", with {row['under']}" if row["under"] else "")


def _pays(row: Row) -> str:
    if row["thing"] != "clamps" or math.isnan(row["average_saved_days"]):
        return ""
    return "yes" if row["pays"] else "not sure" if row["may_pay"] else "no"


_WINDOW: list[Column] = [
    ("ships from", _plain("ship_from")),
    ("to", _plain("ship_to")),
    ("promise", _plain("promise")),
    ("kept", _share("chance_kept")),
    ("to keep all", _plain("all_kept")),
    ("arrives by", _plain("arrive_promise")),
]
#: Further tables that a screen shows as they are, by the key of their answer.
_AS_THEY_ARE = {BUYING: (ORDERING, CUTTING, PARTS), WORTH: (COST, CHANGES, CASH)}
#: Columns of the further table of what costs nothing.
_COSTS_NOTHING: list[Column] = [
    ("the best of its sort", _plain("what")),
    ("of", _plain("tried")),
    ("average sooner, days", _range("average_saved_days")),
    ("last sooner, days", _range("last_saved_days")),
    ("hours a piece saved", _range("hands_on_saved_h")),
]
#: Columns of the further table of dearer steps of clamps.
_STEPS: list[Column] = [
    ("what", _thing),
    ("beyond", lambda row: f"{row['beyond']} more"),
    ("saves beyond that, days", _range("gain_days")),
    ("has to save", _number("gain_to_pay_days", 1)),
    ("pays", _pays),
]
_PAYS: list[Column] = [
    ("what", _plain("what")),
    ("pays from, pieces", _number("pays_from")),
    ("not before", _number("pays_from_low")),
    ("surely from", _number("pays_from_high")),
    ("tried up to", _number("pieces_tried")),
]
_AGAINST: list[Column] = [
    ("what", _plain("what")),
    ("against", _plain("against")),
    ("average sooner, days", _range("average_saved_days")),
    ("last sooner, days", _range("last_saved_days")),
    ("hours a piece saved", _range("hands_on_saved_h", 2)),
]
_SCREENS: dict[str, list[Column]] = {
    BUYING: [
        ("material", _plain("material")),
        ("rough", _plain("rough")),
        ("unit", _plain("unit")),
        *(
            (title, _amount(name))
            for title, name in (
                ("net", "net"),
                ("likely", "buy_likely"),
                ("sure", "buy_sure"),
                ("in stock", "in_stock"),
                ("to buy", "to_buy"),
            )
        ),
        ("boards", _number("boards")),
        ("cost", _number("cost", 2)),
        ("order by", _plain("order_by")),
        ("in time", _share("in_time_chance")),
        ("in the file", _plain("ordered")),
        ("then in time", _share("ordered_chance")),
    ],
    BATCH_SIZE: [
        ("batch", _batch),
        ("what comes first", lambda row: str(row["priority"]) if row["several"] else ""),
        ("first, day", _number("first_ship_day")),
        ("average", _number("average_ship_day")),
        ("last", _number("last_ship_day")),
        ("average later, days", _later("average_saved_days")),
        ("hours a piece", _number("hands_on_h_a_piece", 1)),
        ("set-up h", _number("setup_h", 1)),
        ("idle h", _number("idle_h")),
        ("clamps", _number("most_clamps")),
    ],
    MORE_CLAMPS: [
        ("what", _thing),
        ("average sooner, days", _range("average_saved_days")),
        ("last sooner, days", _range("last_saved_days")),
        ("has to save", _number("days_to_pay", 1)),
        ("cost", _number("cost")),
        ("pays", _pays),
        ("remark", _plain("remark")),
    ],
    HOLDS_BACK: [
        ("what", _plain("what")),
        ("average sooner, days", _range("average_saved_days")),
        ("last sooner, days", _range("last_saved_days")),
        ("waited, days", _number("waited_days", 1)),
        ("cost", _number("cost")),
        (
            "remark",
            lambda row: (
                str(row["remark"])
                if math.isnan(row["average_saved_days"]) or row["average_saved_days_high"] < 0
                else ""
            ),
        ),
    ],
    WINDOWS: [
        ("order", _plain("order")),
        ("pieces", lambda row: "" if row["one_each"] else str(row["quantity"])),
        ("option", _plain("option")),
        ("batch", _plain("batch")),
        *_WINDOW,
        ("late", lambda row: "late" if row.get("late") else ""),
    ],
    NEXT_BUYER: [
        ("number", _plain("number")),
        ("order", _plain("order")),
        ("comes", _share("chance_comes")),
        *_WINDOW,
    ],
    WAYS: [
        ("ways", _plain("ways")),
        ("cost", _number("cost")),
        ("hours a piece", _number("hands_on_h_a_piece", 1)),
        ("saved", _range("hands_on_saved_h", 2)),
        ("first, day", _number("first_ship_day")),
        ("average", _number("average_ship_day")),
        ("last", _number("last_ship_day")),
        ("average later, days", _later("average_saved_days")),
        ("last ships from", _plain("ship_from")),
        ("to", _plain("ship_to")),
        ("clamps", _number("most_clamps")),
        ("remark", _plain("remark")),
    ],
    BATCHES_BY: [
        ("batches by", lambda row: f"{row['batches_by']}{' (now)' if row['is_now'] else ''}"),
        ("batches", _plain("batches")),
        ("first, day", _number("first_ship_day")),
        ("average", _number("average_ship_day", 1)),
        ("last", _number("last_ship_day", 1)),
        ("average later, days", _later("average_saved_days")),
        ("set-up h", _number("setup_h", 1)),
    ],
    BY_COUNT: [
        ("orders", _plain("orders")),
        ("pieces", _plain("pieces")),
        ("likely", _plain("expected")),
        *_WINDOW[:4],
        ("by then", _share("ship_by_chance")),
        *_WINDOW[4:5],
    ],
}
