"""Text for the screen: tables that wrap and never cut a cell, sentences, cautions, and politely shortened lists."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable
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

    Cells wrap between words; where not even that fits the width, each row is a paragraph.
    """
    if title:
        say(console, title, "bold")
    shown = table if longest is None or len(table) <= longest else table.head(longest)
    names = [say_heading(str(name)) for name in shown.columns]
    rows = [
        [clean(say_cell(str(name), value)) for name, value in zip(shown.columns, row, strict=True)]
        for row in shown.itertuples(index=False)
    ]
    widths = _fit_widths(names, rows, console.width)
    if widths is None:
        for cells in rows:
            say(console, "; ".join(f"{name}: {cell}" for name, cell in zip(names, cells, strict=True)))
    else:
        grid = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
        for number, (name, width) in enumerate(zip(names, widths, strict=True)):
            numeric = all(is_number(cells[number]) for cells in rows)
            grid.add_column(Text(name), justify="right" if numeric else "left", overflow="fold", width=width)
        for cells in rows:
            grid.add_row(*(Text(cell) for cell in cells))
        show(console, grid)
    if len(shown) < len(table):
        say_rest(console, len(table) - len(shown), "rows")
    say(console, "")


def _fit_widths(names: list[str], rows: list[list[str]], room: int) -> list[int] | None:
    """A width for each column so that all fit into ``room`` and no word is broken; None if they cannot.

    Cells of up to KEPT_WHOLE letters are kept on one line as long as that fits, too.
    """
    columns = [[name, *(row[number] for row in rows)] for number, name in enumerate(names)]
    widths = [max(cell_len(cell) for cell in cells) for cells in columns]
    words = [max(_longest_word(cell) for cell in cells) for cells in columns]
    whole = [
        max(word, *(cell_len(cell) for cell in [*cells[1:], ""] if cell_len(cell) <= KEPT_WHOLE))
        for word, cells in zip(words, columns, strict=True)
    ]
    room -= COLUMN_GAP * (len(widths) - 1)
    for least in (whole, words):
        if sum(least) <= room:
            while sum(widths) > room:
                slack = [width - low for width, low in zip(widths, least, strict=True)]
                widths[slack.index(max(slack))] -= 1
            return widths
    return None


def _longest_word(text: str) -> int:
    return max((cell_len(word) for word in text.split()), default=0)


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


def complain(lines: Iterable[str]) -> None:
    """Lines to standard error, each exactly as it is."""
    for line in lines:
        sys.stderr.write(f"{line}\n")
    sys.stderr.flush()
