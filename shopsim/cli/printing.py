"""Text for the screen: tables that wrap and never cut a cell, sentences, cautions, and politely shortened lists."""

from __future__ import annotations

import os
import re
import sys
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
LONGEST_TABLE = 40
#: Columns of text when the output is no terminal and COLUMNS says nothing.
PLAIN_WIDTH = 100
#: Cells up to so many letters are wrapped only if the table does not fit otherwise.
KEPT_WHOLE = 24
#: Blanks between two columns.
COLUMN_GAP = 3
#: A range after its number: it may go below it, and is never broken.
_RANGE = re.compile(r" (\(-?[\d.,]+ to -?[\d.,]+\))")


def make_console(stream: Any = None) -> Console:
    """A console on ``stream`` (default standard output): colours only on a terminal, a set width elsewhere."""
    stream = stream or sys.stdout
    width = None if stream.isatty() or os.environ.get("COLUMNS", "").isdigit() else PLAIN_WIDTH
    return Console(file=stream, width=width, highlight=False, markup=False, emoji=False, soft_wrap=False)


def show(console: Console, thing: RenderableType) -> None:
    """Print anything, without blanks at the ends of lines."""
    with console.capture() as captured:
        console.print(thing, crop=False, overflow="fold")
    console.file.write("".join(line.rstrip() + "\n" for line in captured.get().splitlines()))


def say(console: Console, text: str, style: str = "") -> None:
    """One paragraph, wrapped between words; without text, an empty line."""
    show(console, Text(clean(text, 5000), style=style))


def print_table(console: Console, table: pd.DataFrame, *, title: str = "", longest: int | None = LONGEST_TABLE) -> None:
    """A table with its columns' names in words; cut after ``longest`` rows with a line that says how to see all.

    A range goes below its number, and cells wrap between words, where the width asks for it; where not even that
    fits, the columns are split into several tables, each with the first column; a single one too wide is in paragraphs.
    """
    if title:
        say(console, title, "bold")
    shown = table if longest is None or len(table) <= longest else table.head(longest)
    names = [say_heading(str(name)) for name in shown.columns]
    rows = [
        [clean(say_cell(str(name), value)) for name, value in zip(shown.columns, row, strict=True)]
        for row in shown.itertuples(index=False)
    ]
    whole = _lay_out(names, rows, console.width)
    groups = _split_columns(names, rows, console.width) if whole is None else [list(range(len(names)))]
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
    if len(shown) < len(table):
        say_rest(console, len(table) - len(shown), "rows")
    say(console, "")


def _print_grid(console: Console, names: list[str], rows: list[list[str]], widths: list[int]) -> None:
    grid = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for number, (name, width) in enumerate(zip(names, widths, strict=True)):
        numeric = all(is_number(cells[number]) for cells in rows)
        grid.add_column(Text(name), justify="right" if numeric else "left", overflow="fold", width=width)
    for cells in rows:
        grid.add_row(*(Text(cell) for cell in cells))
    show(console, grid)


def _lay_out(names: list[str], rows: list[list[str]], room: int) -> tuple[list[list[str]], list[int]] | None:
    """(the cells, ranges below their numbers where that is needed; the widths of the columns), or None if they cannot fit."""
    folded = [[_RANGE.sub(r"\n\1", cell) for cell in row] for row in rows]
    for cells, whole in ((rows, True), (folded, True), (folded, False)):
        widths = _fit_widths(names, cells, room, whole)
        if widths is not None:
            return cells, widths
    return None


def _split_columns(names: list[str], rows: list[list[str]], room: int) -> list[list[int]]:
    """Numbers of columns, split into groups that fit into ``room``, the first column in each of them."""
    groups: list[list[int]] = []
    for number in range(1, len(names)):
        wider = [*groups[-1], number] if groups else []
        fits = groups and _lay_out([names[n] for n in wider], [[row[n] for n in wider] for row in rows], room)
        if fits:
            groups[-1] = wider
        else:
            groups.append([0, number])
    return groups or [[0]]


def _fit_widths(names: list[str], rows: list[list[str]], room: int, keep_whole: bool) -> list[int] | None:
    """A width for each column so that all fit into ``room`` and no word is broken; None if they cannot.

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
    room -= COLUMN_GAP * (len(widths) - 1)
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
