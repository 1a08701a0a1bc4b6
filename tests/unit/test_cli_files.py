"""It holds that the files a command writes are safe: no cell is a formula, and nothing but the program's own is replaced."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import pytest

Command = Callable[..., tuple[int, str, str]]


def run_of_few(command: str) -> tuple[object, ...]:
    """The words that keep a command short."""
    few: dict[str, tuple[object, ...]] = {
        "once": (),
        "holdups": ("--replications", 5, "--accounted", 1, "--jobs", 1),
        "times": ("--replications", 60, "--jobs", 1),
    }
    return few.get(command, ("--replications", 20, "--jobs", 1))


@pytest.mark.parametrize("command", ["once", "decide", "batches", "clamps", "holdups", "delivery", "times"])
def test_no_cell_of_any_file_is_a_formula(shopsim: Command, trays: Path, tmp_path: Path, command: str) -> None:
    hostile = trays.read_text(encoding="utf-8")
    for name, other in (
        ("band clamp", "\u00a0=2+2"), ("glue", "=1+1"), ("sand", "@sum"), ("oil", " -1+2"), ("maker", "+cmd"),
        ("helper", "=HYPERLINK(1)"), ("bench", "-bench"), ("tray", "=tray"),
    ):  # fmt: skip
        hostile = hostile.replace(f'"{name}"', f'"{other}"')
    (tmp_path / "book.csv").write_text("id,date\n=9+9,2027-01-08\n+8,2027-01-08\n", encoding="utf-8")
    trays.write_text(hostile.replace("orders = 3", 'orders = "book.csv"'), encoding="utf-8")
    folder = tmp_path / "out"
    code, _, err = shopsim(command, trays, *run_of_few(command), "--out", folder)
    assert code == 0, err
    cells = [
        cell
        for path in folder.glob("*.csv")
        for row in csv.reader(path.read_text(encoding="utf-8").splitlines())
        for cell in row
    ]
    texts = [cell for cell in cells if not cell.lstrip("-").replace(".", "").replace("e-", "").isdigit()]
    assert [cell for cell in texts if cell.strip("\u00a0\t ")[:1] in tuple("=+-@") and cell.strip()] == []
    assert any(cell.startswith("'") for cell in texts)
