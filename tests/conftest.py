"""What all tests share: a few lines made into a shop, its schedule as text, commands in this process; how long tests take that
can take any time: ``--examples`` of property tests (the same ones where CI is set), ``--mutants``, ``--hours``.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from hypothesis import HealthCheck, settings

from shopsim import run_once
from shopsim.cli import main
from shopsim.engine import compiling
from shopsim.engine.run import single_runs_compiled
from shopsim.scenario import parse_scenario

DEFAULT_EXAMPLES = 60
DEFAULT_MUTANTS = 300


def pytest_addoption(parser: pytest.Parser) -> None:
    """Adds ``--examples`` and ``--hours``."""
    parser.addoption(
        "--examples",
        type=int,
        default=DEFAULT_EXAMPLES,
        help=f"examples that each property test tries (default {DEFAULT_EXAMPLES})",
    )
    parser.addoption(
        "--mutants",
        type=int,
        default=DEFAULT_MUTANTS,
        help=f"mutated files that are read and run (default {DEFAULT_MUTANTS})",
    )
    parser.addoption(
        "--hours",
        type=float,
        default=0.0,
        help="how long studies are run one after the other to see whether anything is left behind (default: half a minute)",
    )


def pytest_configure(config: pytest.Config) -> None:
    """Loads a profile without time limits: a run of the shop takes as long as it takes.

    The compiled floor is compiled before the first test, if it is not there yet, so that no test's work goes to it in the
    middle; studies then go to it as they do for a user. ``simpy_only`` is for tests of what comes before that.
    """
    if not hasattr(config, "workerinput"):
        compiling.make_ready()
    settings.register_profile(
        "shop",
        max_examples=config.getoption("--examples"),
        deadline=None,
        derandomize=bool(os.environ.get("CI")),
        print_blob=True,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
    )
    settings.load_profile("shop")


@pytest.fixture(scope="module", params=["SimPy model", "compiled floor"])
def each_floor(request: pytest.FixtureRequest) -> Iterator[str]:
    """Every run of a module's tests is made by one engine, then by the other."""
    if request.param == "SimPy model":
        yield request.param
        return
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(compiling, "_state", compiling._State())  # other modules' runs are made as ever
        with single_runs_compiled():
            yield request.param


@contextmanager
def only_simpy() -> Iterator[None]:
    """Every run, in this process and those begun in it, is the SimPy model's."""
    with pytest.MonkeyPatch.context() as patch:
        state = compiling._State()
        state.reason = "this test is about the SimPy model"
        patch.setattr(compiling, "_state", state)
        patch.setenv(compiling.SWITCH, "no")
        yield


@pytest.fixture
def simpy_only() -> Iterator[None]:
    """Every run of a test is the SimPy model's, as on a machine where nothing is compiled yet."""
    with only_simpy():
        yield


@contextmanager
def only_compiled() -> Iterator[None]:
    """Studies in this process are the compiled floor's from their first run on."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(compiling, "_state", compiling._State())
        compiling.load_now()
        yield


@pytest.fixture(scope="session")
def machine_code() -> Any:
    """The functions of the compiled floor, loaded for whoever calls them without a study."""
    from shopsim.engine.compiled import machine_code

    machine_code.load(compiling.folder_of_code())
    return machine_code


@pytest.fixture(scope="session")
def floors() -> dict[str, Callable[[], AbstractContextManager[None]]]:
    """For tests that put one engine's studies beside the other's: ``with floors["SimPy"](): ...``."""
    return {"SimPy": only_simpy, "compiled": only_compiled}


@pytest.fixture(autouse=True)
def _usual_width(monkeypatch: pytest.MonkeyPatch) -> None:
    """Commands print as they do where nobody has set a width; a test runner's own width is not the user's."""
    monkeypatch.delenv("COLUMNS", raising=False)


@pytest.fixture(autouse=True)
def _same_main_module() -> Iterator[None]:
    """Pages drawn without a browser put themselves in place of the main module, which worker processes would then run."""
    main = sys.modules["__main__"]
    yield
    sys.modules["__main__"] = main


#: 2027-01-11 is a Monday, so 15 is the Friday and 18 the next Monday.
MONDAY = "2027-01-11"

TRAYS = """\
title = "Four trays"

[shop]
open = { mon-fri = "08:00-12:00, 13:00-17:00" }

[[shop.workers]]
name = "maker"

[[shop.workers]]
name = "helper"
open = { wed = "08:00-12:00" }
can = ["sand", "oil"]

[[shop.stations]]
name = "bench"

[[shop.clamps]]
name = "band clamp"
count = 2
price = 18.0

[design]
name = "tray"

[[design.operations]]
name = "cut"
setup = "10 min"
work = "20 / 30 / 50 min"
caution = "table saw"

[[design.operations]]
name = "glue"
station = "bench"
work = "10 / 15 / 30 min"
clamps = [{ kind = "band clamp", count = 1 }]
in_clamps = "16 h"
caution = "glue-up"

[[design.operations]]
name = "sand"
work = "10 / 20 / 40 min"
dusty = true
caution = "dust"

[[design.operations]]
name = "oil"
work = "5 / 8 / 12 min"
wet = "1 h"
cure = "12 h"
caution = "oily rags"

[run]
orders = 3
round_up_to = 2
batch = 2
start = 2027-01-11
"""


def shop_text(
    operations: str,
    *,
    open: str = '{ mon-fri = "08:00-16:00" }',
    shop: str = "",
    parts: str = "",
    start: str = MONDAY,
    run: str = "orders = 1",
    more: str = "",
) -> str:
    """A whole scenario file from the lines that matter to one test."""
    return f"""
[shop]
open = {open}
{shop}

[design]
name = "tray"
parts = {{ {parts} }}
operations = [
{operations}
]

[run]
start = {start}
{run}

{more}
"""


def say_time(moment: Any) -> str:
    """``Mon 11 08:00``; seconds are shown only where there are some, and nothing at all as ``-``."""
    if pd.isna(moment):
        return "-"
    return f"{moment:%a %d %H:%M}" + (f":{moment:%S}" if moment.second or moment.microsecond else "")


def _name_tasks(tasks: pd.DataFrame) -> list[str]:
    plain = []
    for row in tasks.itertuples():
        if pd.notna(row.piece):
            plain.append(f"{row.operation} {row.piece}")
        else:
            plain.append(row.operation if pd.isna(row.batch) else f"{row.operation} of batch {row.batch}")
    seen: dict[str, int] = {}
    names = []
    for name in plain:
        seen[name] = seen.get(name, 0) + 1
        names.append(f"{name}.{seen[name]}" if plain.count(name) > 1 else name)
    return names


def list_tasks(tasks: pd.DataFrame, *columns: str) -> dict[str, str]:
    """For each task its columns as text: ``{"cut 1": "Mon 11 08:00 - Mon 11 09:00"}``.

    A task is named by operation and piece, with ``.1``, ``.2`` where a piece has several;
    one for a whole batch is named ``pack of batch 2``.
    """
    ordered = tasks.sort_values(["batch", "piece", "operation", "unit"], kind="stable")
    said = []
    for row in ordered[list(columns)].itertuples(index=False):
        said.append(
            " - ".join(
                say_time(value)
                if column in ("ready", "start", "in_clamps_until", "done")
                else (f"{value:g}" if column.endswith("_min") else str(value))
                for column, value in zip(columns, row, strict=True)
            )
        )
    return dict(zip(_name_tasks(ordered), said, strict=True))


@pytest.fixture
def run_shop() -> Callable[..., Any]:
    """Runs a shop described in a few lines, with likely times and no luck: ``run_shop(operations, run="orders = 2")``.

    Every such run also has to obey the laws of a record.
    """

    def run(operations: str, **lines: str) -> Any:
        made = run_once(parse_scenario(shop_text(operations, **lines)), likely=True)
        assert made.check() == []
        return made

    return run


@pytest.fixture
def schedule(run_shop: Callable[..., Any]) -> Callable[..., dict[str, str]]:
    """The schedule of such a shop as text, start and done of every task unless other columns are asked for."""

    def see(operations: str, columns: tuple[str, ...] = ("start", "done"), **lines: str) -> dict[str, str]:
        return list_tasks(run_shop(operations, **lines).tasks, *columns)

    return see


@pytest.fixture
def read_run() -> Callable[..., dict[str, str]]:
    """The schedule as text of a run that a test made itself: ``read_run(run, "worker")``."""

    def read(run: Any, *columns: str) -> dict[str, str]:
        return list_tasks(run.tasks, *(columns or ("start", "done")))

    return read


@pytest.fixture
def write_shop() -> Callable[..., str]:
    """The scenario text that ``run_shop`` runs, for tests that read it in another way."""
    return shop_text


@pytest.fixture
def shopsim(capsys: pytest.CaptureFixture[str]) -> Callable[..., tuple[int, str, str]]:
    """Runs a command line in this process: ``shopsim("check", path)`` gives (exit code, output, complaints)."""

    def run(*words: object) -> tuple[int, str, str]:
        code = main([str(word) for word in words])
        said = capsys.readouterr()
        return code, said.out, said.err

    return run


@pytest.fixture
def trays(tmp_path: Path) -> Path:
    """A small file to run commands on: four trays in batches of two, with luck, clamps, a helper and cautions."""
    path = tmp_path / "trays.toml"
    path.write_text(TRAYS, encoding="utf-8")
    return path
