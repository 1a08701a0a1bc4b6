"""It holds that numbers are put into words in one room: no other says to how many places a number is shown to a reader."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[2] / "shopsim"
#: Where readers are spoken to. Colours are numbers for a browser.
ROOMS = ("answers", "app", "charts", "cli", "screens.py", "screen_tables.py", "report.py", "export.py")
LEFT_OUT = {PACKAGE / "charts" / "chart_style.py"}
PLACES = re.compile(r"[\d.,+-]*[eEfFgG%]")


def find_formats(source: str) -> Iterator[str]:
    """Each format of a number to so many places in a text, as ``line: format``."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.FormattedValue) and isinstance(node.format_spec, ast.JoinedStr):
            parts = node.format_spec.values
            said = "".join(str(part.value) if isinstance(part, ast.Constant) else "0" for part in parts)
            if PLACES.fullmatch(said):
                yield f"{node.lineno}: {said}"


def files() -> list[Path]:
    found = [path for room in ROOMS for path in ([PACKAGE / room] if "." in room else (PACKAGE / room).rglob("*.py"))]
    return [path for path in found if path not in LEFT_OUT]


@pytest.mark.parametrize("path", files(), ids=lambda path: str(path.relative_to(PACKAGE)))
def test_no_other_room_says_to_how_many_places(path: Path) -> None:
    assert list(find_formats(path.read_text(encoding="utf-8"))) == []


def test_a_format_is_found() -> None:
    assert list(find_formats("f'{days:.1f} days'")) == ["1: .1f"]
    assert list(find_formats("f'{days:,.0f} {share:g} {n:,} {day:%Y-%m-%d} {name}'")) == ["1: ,.0f", "1: g"]
