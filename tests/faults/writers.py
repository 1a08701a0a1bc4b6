"""Everything the project writes, as pairs: write version 0, 1, 2 ... of it into a folder, and read which one is there.

Reading fails on a file that is not whole, whatever its kind.
"""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pandas as pd
from openpyxl import load_workbook

from shopsim.answers.log_files import write_learned
from shopsim.export import format_csv, write_tables, write_workbook
from shopsim.report import Section, write_report
from shopsim.scenario import Scenario, change_scenario, load_scenario, parse_scenario, save_scenario
from shopsim.scenario.evidence import Learned, LoggedDays
from shopsim.scenario.writing import edit_file
from shopsim.study import Study, open_study, run_study

TEXT = """\
# A remark that stays.
[shop]
open = "always"
[design]
name = "tray"
operations = [{ name = "cut", work = "5 / 10 / 20 min" }, { name = "oil", work = "5 min", cure = "12 h" }]
[run]
orders = 5 # this one is changed
start = 2027-01-11
"""


def make_scenario(version: int) -> Scenario:
    """A small scenario that says its version by its number of orders."""
    return change_scenario(parse_scenario(TEXT), {"run.orders": 5 + version})


def _table(version: int) -> pd.DataFrame:
    return pd.DataFrame({"piece": range(200), "version": version})


def _save(folder: Path, version: int) -> None:
    save_scenario(make_scenario(version), folder / "shop.toml")


def _read_saved(folder: Path) -> int:
    orders = load_scenario(folder / "shop.toml").run.orders
    assert isinstance(orders, int)
    return orders - 5


def _edit(folder: Path, version: int) -> None:
    path = folder / "shop.toml"
    if not path.exists():
        path.write_text(TEXT)
    edit_file(path, {"run.orders": 5 + version})


def _read_edited(folder: Path) -> int:
    assert "# A remark that stays." in (folder / "shop.toml").read_text()
    return _read_saved(folder)


def _learn(folder: Path, version: int) -> None:
    path = folder / "shop.toml"
    if not path.exists():
        path.write_text(TEXT)
    days = LoggedDays(days=10 + version, lost=1, shares=0, log="days.csv")
    write_learned(path, Learned(days=(days,)), load_scenario(path))


def _read_learned(folder: Path) -> int:
    assert "# A remark that stays." in (folder / "shop.toml").read_text()
    (days,) = load_scenario(folder / "shop.toml").learned.days
    return days.days - 10


_KNOWN = '# Learned so far.\ndays = [\n    {days = 10, lost = 1, log = "days.csv"}\n]\n'
_APART = f'learned = "known.toml"\n{TEXT}'


def _learn_apart(folder: Path, version: int) -> None:
    path = folder / "own.toml"
    if not path.exists():
        path.write_text(_APART)
        (folder / "known.toml").write_text(_KNOWN)
    days = LoggedDays(days=10 + version, lost=1, shares=0, log="days.csv")
    write_learned(path, Learned(days=(days,)), load_scenario(path))


def _read_learned_apart(folder: Path) -> int:
    assert (folder / "own.toml").read_text() == _APART
    assert "# Learned so far." in (folder / "known.toml").read_text()
    (days,) = load_scenario(folder / "own.toml").learned.days
    return days.days - 10


def _write_csv(folder: Path, version: int) -> None:
    write_tables(folder, {"pieces": _table(version)})


def _read_csv(folder: Path) -> int:
    text = (folder / "pieces.csv").read_text()
    version = int(text.rsplit(",", 1)[1])
    assert text == format_csv(_table(version))
    return version


def _write_workbook(folder: Path, version: int) -> None:
    write_workbook(folder / "pieces.xlsx", {"pieces": _table(version)})


def _read_workbook(folder: Path) -> int:
    with zipfile.ZipFile(folder / "pieces.xlsx") as packed:
        assert packed.testzip() is None
    sheet = load_workbook(folder / "pieces.xlsx").active
    assert sheet is not None
    assert sheet.max_row == 201
    return int(sheet.cell(201, 2).value)


def _write_report(folder: Path, version: int) -> None:
    write_report(
        folder / "report.html",
        [Section(f"Lot {version}.", "A sentence.", (), {"": _table(version)})],
        title="A report",
        scenario_text=TEXT,
        stamp={"version": "1"},
        date=pd.Timestamp("2027-01-11").date(),
        cautions=pd.DataFrame(),
    )


def _read_report(folder: Path) -> int:
    text = (folder / "report.html").read_text()
    assert text.rstrip().endswith("</html>")
    return int(text.split("Lot ", 1)[1].split(".", 1)[0])


@cache
def _study(version: int) -> Study:
    return run_study({"today": make_scenario(0)}, replications=3, seed=version)


def _save_study(folder: Path, version: int) -> None:
    _study(version).save(folder / "kept.study")


def _read_study(folder: Path) -> int:
    study = open_study(folder / "kept.study")
    assert study.rows.equals(_study(study.seed).rows)
    return study.seed


@dataclass(frozen=True)
class Writer:
    """``write(folder, version)`` writes the file ``name``; ``read(folder)`` is the version that stands there.

    ``beside``: files that stand there as well and are not changed.
    """

    name: str
    write: Callable[[Path, int], None]
    read: Callable[[Path], int]
    beside: tuple[str, ...] = ()


WRITERS: dict[str, Writer] = {
    "a scenario": Writer("shop.toml", _save, _read_saved),
    "a change in a scenario": Writer("shop.toml", _edit, _read_edited),
    "what was learned": Writer("shop.toml", _learn, _read_learned),
    "what was learned, in a file of its own": Writer("known.toml", _learn_apart, _read_learned_apart, ("own.toml",)),
    "a table as CSV": Writer("pieces.csv", _write_csv, _read_csv),
    "tables as a workbook": Writer("pieces.xlsx", _write_workbook, _read_workbook),
    "a report": Writer("report.html", _write_report, _read_report),
    "a study": Writer("kept.study", _save_study, _read_study),
}
