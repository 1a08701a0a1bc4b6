"""What happens in a run, as its log says it: the kinds of happening, the columns, one row."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from shopsim.scenario.log_table import CsvColumn, CsvColumns, plain_name

BEGUN, PAUSED, DONE, CLAMPS_OFF, SPOILED = "begun", "paused", "done", "clamps off", "spoiled"
SHIPPED, CAME, LOST, SHORTENED, TAKEN_BACK = "shipped", "material came", "day lost", "day shortened", "taken back"
#: What can happen, each with what else it may be called.
WHATS: dict[str, tuple[str, ...]] = {
    BEGUN: ("begin", "began", "start", "started", "goneon"),
    PAUSED: ("pause", "leftoff", "brokenoff"),
    DONE: ("finished", "finish", "ready"),
    CLAMPS_OFF: ("off", "unclamped", "clampscameoff"),
    SPOILED: ("spoilt", "ruined", "scrapped"),
    SHIPPED: ("sent", "collected"),
    CAME: ("came", "come", "arrived", "materialarrived", "materialcome", "delivered"),
    LOST: ("lost", "daywaslost", "lostday"),
    SHORTENED: ("shortened", "shortday", "shortenedday", "dayshort"),
    TAKEN_BACK: ("back", "takeback", "cancelled", "undone", "undo"),
}
#: Those that are done to tasks.
OF_TASKS = (BEGUN, PAUSED, DONE, CLAMPS_OFF, SPOILED)

RUN_COLUMNS: CsvColumns = {
    "when": CsvColumn(
        ("when", "moment", "datetime", "timestamp", "date", "day", "at"),
        "When it happened: a day with a time of day, for a day that was lost or shortened the day alone.",
        "2027-02-03 21:00",
        needed=True,
    ),
    "what": CsvColumn(
        ("what", "happened", "event", "happening"),
        f"What happened: {', '.join(WHATS)}.",
        "done",
        needed=True,
    ),
    "operation": CsvColumn(
        ("operation", "op", "step"), "Operation, as the scenario calls it; default none.", "glue side frames"
    ),
    "batch": CsvColumn(
        ("batch", "batchno", "batchnumber"), "Number of the batch; default that of the pieces, or the only one.", "2"
    ),
    "pieces": CsvColumn(
        ("pieces", "piece", "pieceno"),
        "Numbers of the pieces, as in every table; default all of the batch that it can be said of.",
        "6-8, 10",
    ),
    "part": CsvColumn(("part",), "The part that was spoiled; default that of the operation.", "side frame"),
    "units": CsvColumn(
        ("units", "unit"), "Which of the parts of each piece, counted from 1; default all that it has.", "2"
    ),
    "worker": CsvColumn(
        ("worker", "workers", "who", "by"), "Who did it, several joined by +; default who would do it first.", "helper"
    ),
    "station": CsvColumn(("station",), "Where it was done; default the operation's.", "bench"),
    "clamps": CsvColumn(
        ("clamps", "clamp"), "Clamps it took; default the smallest that serve.", "4 bar clamp + 1 band clamp"
    ),
    "order": CsvColumn(("order", "orderid", "orderno"), "The order that shipped; default none.", "1001"),
    "material": CsvColumn(("material", "goods"), "The material that came; default none.", "walnut boards"),
    "minutes": CsvColumn(
        ("minutes", "min", "mins", "took"),
        "Hands-on minutes it took, or what a day was shortened by; default what the clock says between begun and done.",
        "42",
    ),
    "row": CsvColumn(
        ("row", "line"), "The row of this file that is taken back, counted from 1 with the head; default none.", "12"
    ),
    "note": CsvColumn(
        ("note", "notes", "remark", "remarks"), "Anything you like; default nothing.", "knot in the rail"
    ),
}


@dataclass(frozen=True)
class Happening:
    """One row of a log of a run. ``line``: its row in the file. ``minute``: of the day, None where only a day is named.

    ``pieces`` and ``units`` count from 1; None where the row says nothing of them, as with ``batch``, ``minutes`` and ``row``.
    """

    line: int
    date: dt.date
    minute: float | None
    what: str
    operation: str = ""
    batch: int | None = None
    pieces: tuple[int, ...] | None = None
    part: str = ""
    units: tuple[int, ...] | None = None
    worker: str = ""
    station: str = ""
    clamps: str = ""
    order: str = ""
    material: str = ""
    minutes: float | None = None
    row: int | None = None
    note: str = ""


def find_what(text: str) -> str | None:
    """What happened, however it is written; None for anything else."""
    plain = plain_name(text)
    return next((what for what, others in WHATS.items() if plain in (plain_name(what), *others)), None)
