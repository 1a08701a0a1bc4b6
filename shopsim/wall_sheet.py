"""The days as a sheet for the wall: one HTML file that prints a week on a page, on A4 and on Letter, with boxes to tick.

Letters are as large as the week allows, so that it can be read from where one works; a week that would need smaller ones than
can be read runs on to a second page. Cautions stand beside the work by their names, and in full on the last page.
"""

from __future__ import annotations

import datetime as dt
import html
import math
from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from shopsim.answers.day_plan import GLUE_UP, OVERNIGHT, SHIP, UNCLAMP
from shopsim.plurals import say_number_of

#: The name of the file.
WALL_SHEET = "wall-sheet.html"
#: Width and height in mm of what can be printed on, the lesser of A4 and Letter less margins of 12 mm, head and foot taken off.
WIDE_MM, HIGH_MM = 186.0, 226.0
#: Sizes of letters that are tried, in points: the largest at which the week fits counts, or the smallest.
SIZES_PT = (24, 22, 20, 18, 16, 15, 14, 13, 12, 11, 10, 9, 8)
MM_A_PT, LINE, LETTER = 0.3528, 1.3, 0.5
#: How large the letters of a caution are beside those of the work, and a day's heading beside a line.
SMALL, HEADING = 0.72, 1.6

_STYLE = """
@page { margin: 12mm; }
* { box-sizing: border-box; }
body { margin: 0 auto; max-width: 186mm; font-family: Arial, Helvetica, "Liberation Sans", sans-serif; color: #000; background: #fff; line-height: 1.3; }
section { break-after: page; }
section:last-of-type { break-after: auto; }
h1 { font-size: 20pt; margin: 0 0 2mm; border-bottom: 1mm solid #000; }
h2 { font-size: 1.15em; margin: 0.35em 0 0.1em; break-after: avoid; border-bottom: 0.3mm solid #000; }
ul { list-style: none; margin: 0; padding: 0; }
li { display: flex; gap: 0.45em; break-inside: avoid; }
.box { flex: none; width: 0.85em; height: 0.85em; border: 0.5mm solid #000; margin-top: 0.22em; }
.time { flex: none; font-weight: bold; font-variant-numeric: tabular-nums; }
.glue { font-weight: bold; }
.night { font-style: italic; }
.caution { font-size: 0.72em; }
.foot { font-size: 9pt; margin-top: 3mm; }
dl { font-size: 11pt; } dt { font-weight: bold; margin-top: 2mm; } dd { margin: 0; }
@media screen { body { padding: 4mm; max-width: 210mm; } section { margin-bottom: 12mm; } }
@media screen and (max-width: 480px) { section ul, section h2 { font-size: 17px; } h1 { font-size: 22px; } li { padding: 6px 0; } .box { width: 22px; height: 22px; margin-top: 0; } }
"""

Row = Mapping[str, Any]


def format_wall_sheet(plan: pd.DataFrame, title: str, cautions: pd.DataFrame, under: str) -> str:
    """The sheet as one HTML text that names no other file; pure.

    ``plan``: of ``plan_days``; ``title``: of the run; ``cautions``: of ``list_cautions``; ``under``: in words, which plan it is of.
    """
    weeks: dict[dt.date, list[Row]] = {}
    for row in plan.to_dict("records"):
        monday = row["day"] - dt.timedelta(days=row["day"].weekday())
        weeks.setdefault(monday, []).append({str(key): value for key, value in row.items()})
    pages = [_format_week(monday, rows, title, under) for monday, rows in weeks.items()]
    if len(cautions):
        pages.append(_format_cautions(cautions))
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{_text(title)}: wall sheet</title><style>{_STYLE}</style></head>\n<body>\n"
        + "\n".join(pages)
        + "\n</body></html>\n"
    )


def _format_week(monday: dt.date, rows: Sequence[Row], title: str, under: str) -> str:
    days: dict[dt.date, list[Row]] = {}
    for row in rows:
        days.setdefault(row["day"], []).append(row)
    size = fit_size([[_plain(row) for row in of_day] for of_day in days.values()])
    parts = [
        f"<h2>{day:%A %d %B}</h2><ul>{''.join(_format_row(row) for row in of_day)}</ul>" for day, of_day in days.items()
    ]
    return (
        f'<section><h1>{_text(title)}: week of {monday:%d %B %Y}</h1><div style="font-size: {size}pt">{"".join(parts)}</div>'
        f'<p class="foot">{_text(under)} Likely times: a plan to work by, no date to state.</p></section>'
    )


def fit_size(days: Sequence[Sequence[str]]) -> int:
    """The largest size of letters, in points, at which these lines of days, wrapped, fit on one page; the smallest if none does."""
    for size in SIZES_PT:
        letters = WIDE_MM / (size * MM_A_PT * LETTER) - 2
        lines = sum(HEADING + sum(math.ceil(max(1, len(line)) / letters) for line in of_day) for of_day in days)
        if lines * size * MM_A_PT * LINE <= HIGH_MM:
            return size
    return SIZES_PT[-1]


def _say(row: Row) -> tuple[str, str, str, str]:
    """(time, what, class, caution) of one row."""
    whose: str = "" if pd.isna(row["batch"]) else f"batch {row['batch']}"
    pieces = (
        f"{'pieces' if any(mark in row['pieces'] for mark in '-,') else 'piece'} {row['pieces']}"
        if row["pieces"]
        else ""
    )
    about = ", ".join(part for part in (whose, pieces) if part)
    what = f"{row['operation'] or row['design']}{f' ({about})' if about else ''}"
    if row["do"] == SHIP:
        return "", f"ships: {what}", "", ""
    if row["do"] == OVERNIGHT:
        return "", f"stays in clamps: {what} until {row['until']:%a %H:%M}", "night", ""
    time = f"{row['from']:%H:%M}"
    if row["do"] == UNCLAMP:
        return time, f"clamps off: {what}", "", row["caution"]
    if row["do"] == GLUE_UP:
        times = f"; begin {row['begin_at']}" if "," in row["begin_at"] else ""
        return time, f"GLUE UP {what}{times}; {row['clamps']}", "glue", row["caution"]
    return time, f"{what}{_say_who(row)}", "", row["caution"]


def _say_who(row: Row) -> str:
    return f", {row['worker']}" if row["worker"] and " + " in row["worker"] else ""


def _plain(row: Row) -> str:
    """As long as it is printed: a caution takes less room for its letters."""
    time, what, _, caution = _say(row)
    return f"[] {time} {what}" + "." * round(SMALL * (len(caution) + 3 if caution else 0))


def _format_row(row: Row) -> str:
    time, what, kind, caution = _say(row)
    box = '<span class="box"></span>' if kind != "night" else ""
    shown = f'<span class="time">{time}</span>' if time else ""
    warned = f' <span class="caution">! {_text(caution)}</span>' if caution else ""
    return f'<li>{box}{shown}<span class="{kind or "work"}">{_text(what)}{warned}</span></li>'


def _format_cautions(cautions: pd.DataFrame) -> str:
    said = "".join(
        f"<dt>{_text(str(row['caution']))}</dt><dd>{_text(str(row['text']))}</dd>"
        for row in cautions.to_dict("records")
    )
    count = say_number_of(len(cautions), "caution")
    return f"<section><h1>Cautions</h1><p>{count} for this work, named beside each step.</p><dl>{said}</dl></section>"


def _text(text: str) -> str:
    return html.escape(text)
