"""It holds that a command loads what it uses and no more: help and slips of the keyboard come at once."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

#: Libraries that take a tenth of a second or more to load.
LARGE = frozenset(
    {"numpy", "openpyxl", "pandas", "plotly", "pydantic", "rich", "scipy", "simpy", "streamlit", "tomlkit"}
)
LOOK = """
import sys
from shopsim.cli import main
code = main(sys.argv[1:])
print(code, len(sys.modules), *sorted({name.split(".")[0] for name in sys.modules}))
"""


def loaded_by(*words: object) -> tuple[int, int, set[str]]:
    """(exit code, how many modules were loaded, the packages they are of) of a command in a process of its own."""
    done = subprocess.run([sys.executable, "-c", LOOK, *map(str, words)], capture_output=True, text=True, check=True)
    code, n_modules, *packages = done.stdout.splitlines()[-1].split()
    return int(code), int(n_modules), set(packages)


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("--help",), 0),
        (("--version",), 0),
        (("delivery", "--help"), 0),
        (("bathces", "stools.toml"), 2),
        (("batches", "stools.toml", "--sizes", "some"), 2),
        (("delivery", "stools.toml", "--batches-by", "weight"), 2),
        (("app", "--port", "front"), 2),
    ],
)
def test_help_and_a_mistyped_command_load_no_large_library(words: tuple[str, ...], code: int) -> None:
    found, n_modules, packages = loaded_by(*words)
    assert found == code
    assert packages & LARGE == set()
    assert n_modules < 250  # Python's own for reading a command line, and few of ours


def test_a_command_loads_what_it_uses(trays: Path, tmp_path: Path) -> None:
    code, _, schema = loaded_by("schema", "--out", tmp_path / "schema.json")
    assert (code, schema & {"openpyxl", "pandas", "plotly", "rich", "simpy"}) == (0, set())
    study = ("batches", trays, "--sizes", "1", "--replications", "2", "--jobs", "1")
    code, _, on_screen = loaded_by(*study)
    assert (code, on_screen & {"icalendar", "openpyxl", "plotly", "streamlit"}) == (0, set())
    code, _, with_report = loaded_by(*study, "--out", tmp_path / "out")
    assert (code, with_report & {"openpyxl", "plotly", "streamlit"}) == (0, {"plotly"})
