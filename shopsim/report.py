"""Answers with their charts as one HTML file that a maker can keep, print or send: it opens offline and loads nothing.

Everything that comes from a file or an answer is escaped; the page's own policy forbids it
to fetch anything, and the drawing library stands in it once.
"""

from __future__ import annotations

import datetime as dt
import html
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd

from shopsim.answers.answer import Answer
from shopsim.answers.delivery_words import BINDING
from shopsim.answers.one_run import RunTables, shorten_pieces, shorten_plan
from shopsim.charts import (
    CONFIG,
    DRAW,
    THEMES,
    build_clamps_in_use,
    build_for_answer,
    build_timeline,
    build_use,
    build_waiting,
    format_figure,
    format_script,
    how_to_read,
)
from shopsim.say import is_number, say_cell, say_heading
from shopsim.scenario import write_text_safely

#: Rows of a table that stand in the report; the CSV files hold all of them.
MAX_ROWS = 300
#: Name of the file in a folder of results.
REPORT_NAME = "report.html"


@dataclass(frozen=True)
class Section:
    """One part of a report: ``title``, a ``sentence``, ``figures`` in order, ``tables`` by title, ``notes``."""

    title: str
    sentence: str
    figures: Sequence[Any] = ()
    tables: Mapping[str, pd.DataFrame] | None = None
    notes: Sequence[str] = ()


def build_section(answer: Answer, tables: Mapping[str, pd.DataFrame] | None = None, theme: str = "light") -> Section:
    """The part of a report that an answer makes, with its charts.

    ``tables``: what is shown of it, by titles (``""`` for its rows), default its rows with all columns.
    """
    return Section(
        answer.title,
        answer.sentence,
        build_for_answer(answer.key, answer.rows, answer.tables, theme),
        {"": answer.rows} if tables is None else tables,
        answer.notes,
    )


def build_run_sections(run: RunTables, sentence: str, theme: str = "light") -> list[Section]:
    """The parts of a report on one run: pieces, the run as a timeline, where the time goes, use, and the day plan."""
    clamps = [build_clamps_in_use(run.in_use, run.closed, kind, theme) for kind in run.kinds]
    hands = [
        build_timeline(run.spans, run.closed, "worker", theme),
        build_use(run.use, theme),
        build_use(run.use, theme, when="whole run"),
        *clamps,
    ]
    pieces = build_timeline(run.spans, run.closed, "piece", theme)
    return [
        Section("One run", sentence, [pieces], {"": shorten_pieces(run.pieces)}),
        Section(
            "Where the time goes", "", [build_waiting(run.holdups, "piece", theme)], {"Average of all pieces": run.time}
        ),
        Section("Hands and shop", "", hands, {"Hours by use": run.use}),
        Section("Day plan", "", (), {"": shorten_plan(run.plan)}),
    ]


def write_report(
    path: str | Path,
    sections: Sequence[Section],
    *,
    title: str,
    scenario_text: str,
    stamp: Mapping[str, object],
    date: dt.date,
    cautions: pd.DataFrame,
    theme: str = "light",
) -> Path:
    """Write a report as one HTML file (about 5 MB), beside its place and swapped in; the path.

    ``title``: the scenario's. ``scenario_text``: the TOML text that was run. ``stamp``: what it was made
    with, printed in its order, such as version, seed and replications. ``date``: the day it is
    made, which stands in it. ``cautions``: ``caution``, ``operations``, ``text``. The note on binding dates
    stands in every report. Same arguments, same bytes. Raises InputError when it cannot be written.
    """
    target = Path(path)
    text = format_report(
        sections,
        title=title,
        scenario_text=scenario_text,
        stamp=stamp,
        date=date,
        cautions=cautions,
        theme=theme,
    )
    write_text_safely(target, text)
    return target


def format_report(
    sections: Sequence[Section],
    *,
    title: str,
    scenario_text: str,
    stamp: Mapping[str, object],
    date: dt.date,
    cautions: pd.DataFrame,
    theme: str = "light",
) -> str:
    """The text of a report; see ``write_report``."""
    made = ", ".join(f"{_escape(key)} {_escape(_say_stamp(value))}" for key, value in stamp.items())
    parts = [
        f"<h1>{_escape(title)}</h1>",
        f'<p class="stamp">Made on {date.isoformat()}: {made}.</p>',
        _format_contents(sections),
    ]
    number = 0
    for place, section in enumerate(sections):
        parts.append(f'<section id="part-{place}">\n<h2>{_escape(section.title)}</h2>')
        if section.sentence:
            parts.append(f'<p class="sentence">{_escape(section.sentence)}</p>')
        for figure in section.figures:
            parts.append(
                f"<figure>\n<figcaption>{_escape(how_to_read(figure))}</figcaption>\n"
                f"{format_figure(figure, f'chart-{number}')}</figure>"
            )
            number += 1
        for name, table in (section.tables or {}).items():
            parts.append((f"<h3>{_escape(name)}</h3>\n" if name else "") + format_table(table))
        notes = [note for note in section.notes if note != BINDING]
        if notes:
            parts.append("<ul>\n" + "\n".join(f"<li>{_escape(note)}</li>" for note in notes) + "\n</ul>")
        parts.append("</section>")
    parts.append(
        f'<section id="dates" class="box">\n<h2>Before you state a date</h2>\n<p>{_escape(BINDING)}</p>\n</section>'
    )
    parts.append(_format_cautions(cautions))
    parts.append(
        '<section id="inputs">\n<h2>What was run</h2>\n<details>\n<summary>The scenario, as a file</summary>\n'
        f"<pre>{_escape(scenario_text)}</pre>\n</details>\n</section>"
    )
    body = "\n".join(part for part in parts if part)
    draw = DRAW.replace("CONFIG_JSON", json.dumps(CONFIG, sort_keys=True))
    script = f"<script>{format_script()}</script>\n<script>\n{draw}</script>\n" if number else ""
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">\n'
        f"<title>{_escape(title)}</title>\n<style>\n{_format_style(theme)}</style>\n</head>\n<body>\n<main>\n{body}\n</main>\n"
        f"{script}</body>\n</html>\n"
    )


_POLICY = (
    "default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data: blob:; "
    "base-uri 'none'; form-action 'none'"
)


def _escape(text: object) -> str:
    return html.escape(str(text), quote=True)


def _say_stamp(value: object) -> str:
    return f"{value:,}" if isinstance(value, int) and not isinstance(value, bool) and value < 1_000_000 else str(value)


def _format_contents(sections: Sequence[Section]) -> str:
    links = [f'<a href="#part-{place}">{_escape(section.title)}</a>' for place, section in enumerate(sections)]
    links += ['<a href="#dates">Before you state a date</a>', '<a href="#inputs">What was run</a>']
    return "<nav>" + " · ".join(links) + "</nav>"


def _format_cautions(cautions: pd.DataFrame) -> str:
    if cautions.empty:
        return ""
    items = "\n".join(
        f"<dt>{_escape(row.caution)} <span>({_escape(row.operations)})</span></dt>"
        + (f"\n<dd>{_escape(row.text)}</dd>" if row.text else "")
        for row in cautions.itertuples(index=False)
    )
    return f'<section id="cautions" class="box">\n<h2>Cautions</h2>\n<dl>\n{items}\n</dl>\n</section>'


#: ``7.2 (6.8 to 7.7)``: a number with its range stays on one line.
_RANGE = re.compile(r"-?[\d,.]+ \(-?[\d,.]+ to -?[\d,.]+\)")
#: Cells of so few letters are kept on one line.
SHORT = 18


def format_table(table: pd.DataFrame) -> str:
    """A table as HTML, numbers to the right, what is not there as a dash; cut after MAX_ROWS with a line that says so."""
    if table.empty:
        return '<p class="stamp">No rows.</p>'
    shown = table.head(MAX_ROWS)
    columns = [[say_cell(str(name), value) for value in shown[name]] for name in shown.columns]
    numeric = [all(is_number(cell) for cell in cells) for cells in columns]
    marks = [' class="n"' if number else "" for number in numeric]
    head = "".join(
        f'<th scope="col"{mark}>{_escape(say_heading(str(name)))}</th>'
        for name, mark in zip(shown.columns, marks, strict=True)
    )
    lines = [
        "<tr>" + "".join(_format_cell(cell, mark) for cell, mark in zip(cells, marks, strict=True)) + "</tr>"
        for cells in zip(*columns, strict=True)
    ]
    rest = len(table) - len(shown)
    more = f'<p class="stamp">{rest:,} more rows stand in the CSV file.</p>' if rest else ""
    return (
        f'<div class="wide" tabindex="0"><table>\n<thead><tr>{head}</tr></thead>\n<tbody>\n'
        + "\n".join(lines)
        + f"\n</tbody>\n</table></div>{more}"
    )


def _format_cell(cell: str, mark: str) -> str:
    if not mark and (len(cell) <= SHORT or _RANGE.fullmatch(cell)):
        mark = ' class="s"'
    return f"<td{mark}>{_escape(cell)}</td>"


def _format_style(theme: str) -> str:
    look = THEMES[theme]
    return f"""\
:root {{ color-scheme: {look.name}; }}
body {{ margin: 0; background: {look.ground}; color: {look.text}; line-height: 1.5;
  font-family: system-ui, -apple-system, "Segoe UI", Roboto, "DejaVu Sans", sans-serif; }}
main {{ max-width: 60rem; margin: 0 auto; padding: 1rem; }}
h1 {{ font-size: 1.7rem; line-height: 1.25; margin: .5rem 0; overflow-wrap: anywhere; }}
h2 {{ font-size: 1.3rem; margin: 2.2rem 0 .5rem; }}
h3 {{ font-size: 1.05rem; margin: 1.5rem 0 .5rem; }}
.stamp, figcaption, dt span {{ color: {look.quiet}; font-size: .9rem; }}
.stamp {{ overflow-wrap: anywhere; }}
.sentence {{ font-size: 1.08rem; max-width: 46rem; }}
nav a, summary {{ color: {look.text}; }}
a:focus-visible, summary:focus-visible, .wide:focus-visible {{ outline: 3px solid {look.series[3]}; }}
figure {{ margin: 1.2rem 0; }}
figcaption {{ max-width: 46rem; margin-bottom: .3rem; }}
.wide {{ overflow-x: auto; }}
.wide td:not([class]) {{ min-width: 9rem; }}
table {{ border-collapse: collapse; font-size: .88rem; font-variant-numeric: tabular-nums; }}
th, td {{ padding: .25rem .7rem .25rem 0; text-align: left; vertical-align: top;
  border-bottom: 1px solid {look.grid}; }}
th {{ font-weight: 600; border-bottom-color: {look.quiet}; vertical-align: bottom; }}
.n {{ text-align: right; }} .n, .s {{ white-space: nowrap; }}
.box {{ border: 2px solid {look.quiet}; border-radius: .4rem; padding: 0 1rem .5rem; margin: 2rem 0; }}
.box h2 {{ margin-top: .8rem; }}
dt {{ font-weight: 600; }} dt span {{ font-weight: 400; }}
dd {{ margin: 0 0 .7rem; }}
pre {{ white-space: pre-wrap; overflow-wrap: anywhere; font-size: .82rem; }}
@page {{ margin: 15mm; }}
@media print {{
  main {{ max-width: none; padding: 0; }}
  nav {{ display: none; }}
  figure, tr, dt, dd {{ break-inside: avoid; }}
  figure > div {{ zoom: .75; }}
  h2, h3, figcaption {{ break-after: avoid; }}
  .wide {{ overflow: visible; }}
  .wide td:not([class]) {{ min-width: 0; }}
  pre {{ columns: 2; font-size: .7rem; }}
  table {{ font-size: .72rem; }}
}}
"""
