"""Whatever moment a process is killed at, each file it was writing is the old one or the new one, and whole.

All the killing is done by stepping.py in a process of its own; what it found is looked at here.
"""

from __future__ import annotations

import ast
import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

import shopsim

from .stepping import LARGE, ROUNDS
from .writers import WRITERS

TESTS = Path(__file__).parents[1]
#: Modules that put files in their places, and what they are called when they do.
AT_HOME = {"scenario/writing.py", "scenario/appending.py"}
OPENS_TO_WRITE = {"write_text", "write_bytes", "NamedTemporaryFile", "mkstemp", "to_csv", "to_excel", "savez"}


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """What the stepping process found; it fails by itself where a file is neither version, or not whole."""
    done = subprocess.run(
        [sys.executable, "-m", "faults.stepping", str(tmp_path_factory.mktemp("killed"))],
        cwd=TESTS,
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1", "PYTHONPATH": str(TESTS.parent)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    told: dict[str, Any] = json.loads(done.stdout)
    return told


@pytest.mark.parametrize("what", WRITERS)
def test_killed_at_any_step_the_old_file_or_the_new_one_is_there(what: str, found: dict[str, Any]) -> None:
    steps = found["steps"][what]
    assert steps["old"] + steps["new"] == steps["steps"] >= 20
    assert min(steps["old"], steps["new"]) >= 2  # it was killed before the new file was put in its place, and after


@pytest.mark.parametrize("what", WRITERS)
def test_beside_it_stands_at_most_a_hidden_part_of_the_new_one(what: str, found: dict[str, Any]) -> None:
    beside = found["steps"][what]["beside"]
    part = re.compile(rf"\.{re.escape(WRITERS[what].name)}\.[0-9a-f]{{12}}\.part")
    assert beside
    assert [name for name in beside if not part.fullmatch(name)] == []


@pytest.mark.parametrize("what", WRITERS)
def test_killed_in_the_middle_of_a_write_the_old_file_is_there(what: str, found: dict[str, Any]) -> None:
    within = found["within"][what]
    size = within["size"]
    if what == "tables as a workbook":  # is first put together elsewhere, so it did not come as far as its own folder
        assert within["left"] == [None] * 4
    else:
        assert within["left"] == [0, 1, size // 3, size - 20]


def test_killed_at_a_moment_of_chance_the_file_is_whole(found: dict[str, Any]) -> None:
    counts = found["any moment"]
    assert sum(counts.values()) == ROUNDS
    assert set(counts) <= {"0", "a", "b"}
    assert len(counts) >= 2, f"{LARGE} bytes were never written in time"


def test_of_two_that_write_at_the_same_time_one_whole_version_is_there_at_any_moment(found: dict[str, Any]) -> None:
    counts = found["together"]
    assert set(counts) <= {"0", "a", "b"}
    assert min(counts["a"], counts["b"]) >= 5


def _writes(tree: ast.AST) -> list[int]:
    """Lines on which a file is opened to be written to. (An archive that is made in memory is none, nor is a pipe.)"""
    lines = []
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        name = getattr(node.func, "attr", getattr(node.func, "id", ""))
        words = [*node.args, *(word.value for word in node.keywords)]
        texts = [word.value for word in words if isinstance(word, ast.Constant) and isinstance(word.value, str)]
        flags = {part.attr for word in words for part in ast.walk(word) if isinstance(part, ast.Attribute)}
        to_write = any(re.fullmatch(r"[rwax+bt]{1,3}", text) and set(text) & set("wax+") for text in texts)
        to_write = to_write or bool(flags & {"O_WRONLY", "O_RDWR", "O_CREAT"})
        in_memory = name == "ZipFile" and isinstance(node.args[0], ast.Name) and node.args[0].id == "written"
        nowhere = "devnull" in flags
        if name in OPENS_TO_WRITE or (name in ("open", "ZipFile") and to_write and not in_memory and not nowhere):
            lines.append(node.lineno)
    return lines


@pytest.mark.parametrize(
    "text",
    ['open("a", "w")', 'path.open(mode="ab")', 'os.open("a", os.O_RDWR)', 'path.write_text("")', 'ZipFile("a", "w")'],
)
def test_a_write_is_known_by_its_look(text: str) -> None:
    assert _writes(ast.parse(text)) == [1]


def test_no_other_module_writes_files_in_a_way_of_its_own() -> None:
    """What holds of the one way of writing so holds of every file, but for a log that is only added to. (An archive is made in memory first, and a second
    handle of a stream that is open already is no file.)"""
    top = Path(shopsim.__file__).parent
    found = {
        str(path.relative_to(top)): lines
        for path in sorted(top.rglob("*.py"))
        if (lines := _writes(ast.parse(path.read_text(encoding="utf-8"))))
    }
    assert set(found) == AT_HOME
