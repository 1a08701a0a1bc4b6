"""Text for the screen: tables that wrap and never cut a cell, sentences, cautions, and politely shortened lists."""

from __future__ import annotations

import os
import re
import sys
import textwrap
from collections.abc import Sequence
from typing import Any

import pandas as pd
from rich import box
from rich.cells import cell_len
from rich.console import Console, RenderableType
from rich.table import Table
from rich.text import Text

from shopsim.say import is_number, say_cell, say_heading
from shopsim.scenario.places import clean

#: Rows of a table that are shown before it is cut.
MAX_TABLE_ROWS = 60
#: Lines of a cell from which on a table is laid out more closely, and beyond which a column of text goes below the table.
TALL, MAX_LINES = 3, 4
#: Columns of text when the output is no terminal and COLUMNS says nothing.
PLAIN_WIDTH = 100
#: Cells up to so many letters are wrapped only if the table does not fit otherwise.
KEPT_WHOLE = 24
#: Blanks between two columns, and where the table does not fit otherwise.
COLUMN_GAP, NARROW_GAP = 3, 2
#: A number and its unit, which stay on one line; the mark that binds them until the text is laid out.
_QUANTITY = re.compile(r"(?<=\d) (?=(?:%|min|h|days?)(?![\w-]))")
_BOUND = "\ue000"
#: A range after its number, and what is said where there is none: it may go below the number, and is never broken.
_RANGE = re.compile(r" (\(-?[\d.,]+ to -?[\d.,]+\)|in every run)$")


def make_console(stream: Any = None) -> Console:
    """A console on ``stream`` (default standard output): colours only on a terminal, a set width elsewhere."""
    stream = stream or sys.stdout
    width = None if stream.isatty() or os.environ.get("COLUMNS", "").isdigit() else PLAIN_WIDTH
    return Console(file=stream, width=width, highlight=False, markup=False, emoji=False, soft_wrap=False)


def show(console: Console, thing: RenderableType) -> None:
    """Print anything, without blanks at the ends of lines."""
    with console.capture() as captured:
        console.print(thing, crop=False, overflow="fold")
    laid = captured.get().replace(_BOUND, " ")
    console.file.write("".join(line.rstrip() + "\n" for line in laid.splitlines()))


def bind(text: str) -> str:
    """A text for ``show`` in which a number is not parted from its unit: ``80 %``, ``67 min``."""
    return _QUANTITY.sub(_BOUND, text)


def say(console: Console, text: str, style: str = "") -> None:
    """One paragraph, wrapped between words; without text, an empty line."""
    show(console, Text(bind(clean(text, 5000)), style=style))


def print_table(
    console: Console, table: pd.DataFrame, *, title: str = "", longest: int | None = MAX_TABLE_ROWS
) -> None:
    """A table with its columns' names in words; cut after ``longest`` rows with a line that says how to see all.

    A range goes below its number, columns stand closer, and cells wrap between words, where the width asks for it; a
    column of long texts goes below the table. Where not even that fits, the columns are split into several tables, each
    with the first column; a single one too wide is in paragraphs.
    """
    if title:
        say(console, title, "bold")
    shown = table if longest is None or len(table) <= longest else table.head(longest)
    names = [say_heading(str(name)) for name in shown.columns]
    rows = [
        [clean(say_cell(str(name), value)) for name, value in zip(shown.columns, row, strict=True)]
        for row in shown.itertuples(index=False)
    ]
    kept, below = _part_long_texts(names, rows, console.width)
    groups = (
        [kept] if _can_lay_out(names, rows, kept, console.width) else _split_columns(names, rows, kept, console.width)
    )
    for group in groups:
        if group is not groups[0]:
            say(console, "")
        heads = [names[number] for number in group]
        cells = [[row[number] for number in group] for row in rows]
        laid = _lay_out(heads, cells, console.width)
        if laid is None:
            for row in cells:
                say(console, "; ".join(f"{name}: {cell}" for name, cell in zip(heads, row, strict=True)))
        else:
            _print_grid(console, heads, *laid)
    for number in below:
        say(console, "")
        for row in (row for row in rows if row[number] not in ("", "-")):
            say(console, f"{row[0]}, {names[number]}: {row[number]}")
    if len(shown) < len(table):
        say_rest(console, len(table) - len(shown), "rows")
    say(console, "")


def _print_grid(console: Console, names: list[str], rows: list[list[str]], widths: list[int], gap: int) -> None:
    grid = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False, padding=(0, 1, 0, gap - 2))
    for number, (name, width) in enumerate(zip(names, widths, strict=True)):
        numeric = all(is_number(cells[number]) for cells in rows)
        grid.add_column(Text(name), justify="right" if numeric else "left", overflow="fold", width=width)
    for cells in rows:
        grid.add_row(*(Text(cell) for cell in cells))
    show(console, grid)


def _lay_out(names: list[str], rows: list[list[str]], room: int) -> tuple[list[list[str]], list[int], int] | None:
    """(the cells, ranges below their numbers where that is needed; the widths of the columns; the blanks between them),
    or None if they cannot fit."""
    folded = [[_RANGE.sub(r"\n\1", cell) for cell in row] for row in rows]
    for cells, whole in ((rows, True), (folded, True), (folded, False)):
        laid = [
            (cells, widths, gap)
            for gap in (COLUMN_GAP, NARROW_GAP)
            if (widths := _fit_widths(names, cells, room - gap * (len(names) - 1), whole)) is not None
        ]
        if laid:  # closer together only where cells would be tall
            return next((one for one in laid if _count_lines(*one[:2]) < TALL), laid[-1])
    return None


def _count_lines(cells: list[list[str]], widths: list[int], columns: Sequence[int] | None = None) -> int:
    """Lines of the tallest cell, of all columns or some."""
    which = range(len(widths)) if columns is None else columns
    return max((_lines_of(row[n], widths[n]) for row in cells for n in which), default=0)


def _lines_of(cell: str, width: int) -> int:
    return sum(max(1, len(textwrap.wrap(line, max(1, width)))) for line in cell.split("\n"))


def _part_long_texts(names: list[str], rows: list[list[str]], room: int) -> tuple[list[int], list[int]]:
    """(numbers of the columns that stay in the table, of those whose texts would be too tall in it)."""
    kept, below = list(range(len(names))), list[int]()
    while len(kept) > 2:
        laid = _lay_out([names[n] for n in kept], [[row[n] for n in kept] for row in rows], room)
        texts = [place for place, n in enumerate(kept) if place and max(len(row[n]) for row in rows) > KEPT_WHOLE]
        if not texts or not rows:
            break
        if laid is not None and _count_lines(laid[0], laid[1], texts) <= MAX_LINES:
            break
        longest = max(texts, key=lambda place: max(len(row[kept[place]]) for row in rows))
        below.append(kept.pop(longest))
    return kept, below


def _can_lay_out(names: list[str], rows: list[list[str]], columns: list[int], room: int) -> bool:
    return _lay_out([names[n] for n in columns], [[row[n] for n in columns] for row in rows], room) is not None


def _split_columns(names: list[str], rows: list[list[str]], columns: list[int], room: int) -> list[list[int]]:
    """Numbers of columns, split into groups that fit into ``room``, the first column in each of them."""
    groups: list[list[int]] = []
    for number in columns[1:]:
        if groups and _can_lay_out(names, rows, [*groups[-1], number], room):
            groups[-1].append(number)
        else:
            groups.append([0, number])
    return groups or [[0]]


def _fit_widths(names: list[str], rows: list[list[str]], room: int, keep_whole: bool) -> list[int] | None:
    """A width for each column so that together they fit into ``room`` and no word is broken; None if they cannot.

    ``keep_whole``: cells of up to KEPT_WHOLE letters, or as many in a line of their own, are kept on one line.
    """
    columns = [[name, *(row[number] for row in rows)] for number, name in enumerate(names)]
    lines = [[line for cell in cells for line in cell.split("\n")] for cells in columns]
    widths = [max(cell_len(line) for line in own) for own in lines]
    words = [max(_longest_word(cell) for cell in cells) for cells in columns]
    whole = [
        max(word, *(cell_len(line) for line in [*own[1:], ""] if cell_len(line) <= KEPT_WHOLE))
        for word, own in zip(words, lines, strict=True)
    ]
    least = whole if keep_whole else words
    if sum(least) > room:
        return None
    while sum(widths) > room:
        slack = [width - low for width, low in zip(widths, least, strict=True)]
        widths[slack.index(max(slack))] -= 1
    return widths


def _longest_word(text: str) -> int:
    """The length of the longest word; a range in a line of its own is one."""
    pieces = [
        part
        for line in text.split("\n")
        for part in ([line] if line.startswith("(") and " to " in line else line.split())
    ]
    return max((cell_len(piece) for piece in pieces), default=0)


def say_rest(console: Console, n_left: int, what: str) -> None:
    """The line under something that was cut."""
    say(console, f"... and {n_left} more {what}: --out DIR writes all of them, --json prints them.", "dim")


def print_cautions(console: Console, cautions: pd.DataFrame) -> None:
    """Each caution once, with the operations it belongs to."""
    if cautions.empty:
        return
    say(console, "Cautions", "bold")
    for row in cautions.itertuples(index=False):
        text = str(row.text)
        say(console, f"{row.caution} ({row.operations}){': ' * bool(text)}{text}")
