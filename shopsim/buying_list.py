"""What to buy as a list that prints: one HTML file with boxes to tick, by the day to order, then how boards are cut."""

from __future__ import annotations

import html
import math
from collections.abc import Mapping
from typing import Any

import pandas as pd

from shopsim.answers.buying import CUTTING, PARTS
from shopsim.columns import find_table
from shopsim.plurals import several
from shopsim.rows import table_rows
from shopsim.say import say_amount, say_cell, say_heading, say_number

#: The name of the file.
BUYING_LIST = "buying-list.html"
_STYLE = """
@page { margin: 14mm; }
body { margin: 0 auto; max-width: 182mm; padding: 2mm; font-family: Arial, Helvetica, "Liberation Sans", sans-serif; font-size: 13pt; color: #000; background: #fff; line-height: 1.35; }
h1 { font-size: 19pt; margin: 0 0 2mm; border-bottom: 0.8mm solid #000; }
h2 { font-size: 14pt; margin: 5mm 0 1mm; break-after: avoid; }
ul { list-style: none; margin: 0; padding: 0; }
li { display: flex; gap: 0.6em; padding: 1mm 0; break-inside: avoid; }
.box { flex: none; width: 0.9em; height: 0.9em; border: 0.5mm solid #000; margin-top: 0.2em; }
table { border-collapse: collapse; width: 100%; font-size: 11pt; } th, td { text-align: left; padding: 0.8mm 2mm 0.8mm 0; border-bottom: 0.2mm solid #000; vertical-align: top; }
.foot { font-size: 9.5pt; margin-top: 4mm; }
"""


def format_buying_list(rows: pd.DataFrame, tables: Mapping[str, pd.DataFrame], title: str, sentence: str) -> str:
    """The list as one HTML text that names no other file; pure.

    ``rows``, ``tables``: of the answer of ``find_buying``; ``title``: of the run; ``sentence``: the answer in words.
    """
    by_day: dict[str, list[str]] = {}
    for row in sorted(table_rows(rows), key=lambda row: str(row["order_by"] or "9999")):
        head = f"Order by {row['order_by']}" if row["order_by"] else "Have in the shop"
        by_day.setdefault(head, []).append(_say(row))
    parts = [
        f"<h2>{_text(head)}</h2><ul>"
        + "".join(f'<li><span class="box"></span><span>{_text(line)}</span></li>' for line in lines)
        + "</ul>"
        for head, lines in by_day.items()
    ]
    for key in (CUTTING, PARTS):
        if len(tables.get(key, ())):
            parts.append(f"<h2>{_text(find_table(key).title)}</h2>{_table(tables[key])}")
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{_text(title)}: what to buy</title><style>{_STYLE}</style></head>\n<body>\n<h1>{_text(title)}: what to buy</h1>\n"
        + "\n".join(parts)
        + f'\n<p class="foot">{_text(sentence)}</p>\n</body></html>\n'
    )


def _say(row: Mapping[str, object]) -> str:
    """One line: how much of what, in how many boards, what it costs."""
    amount = row["to_buy"]
    rough = f", {row['rough']} thick" if row["rough"] else ""
    if not isinstance(amount, int | float) or math.isnan(amount):
        return f"{row['material']} (the file does not say how much)"
    if not amount:
        return f"{row['material']}{rough}: enough is in stock"
    said = f"{say_amount(amount, str(row['unit']))} {_unit(row)} of {row['material']}{rough}"
    boards = row["boards"]
    if isinstance(boards, int | float):
        said += f", in boards: {say_number(boards)}"
    cost = row["cost"]
    return f"{said} ({say_number(cost, 2)})" if isinstance(cost, int | float) else said


def _unit(row: Mapping[str, Any]) -> str:
    """The unit of a row, for as many as are bought; of wood as it stands."""
    return str(row["unit"]) if row["to_buy"] == 1 or row["rough"] else several(str(row["unit"]))


def _table(table: pd.DataFrame) -> str:
    names = [str(name) for name in table.columns]
    head = "".join(f"<th>{_text(say_heading(name))}</th>" for name in names)
    body = "".join(
        "<tr>" + "".join(f"<td>{_text(say_cell(name, row[name]))}</td>" for name in names) + "</tr>"
        for row in table_rows(table)
    )
    return f"<table><tr>{head}</tr>{body}</table>"


def _text(text: str) -> str:
    return html.escape(text)
