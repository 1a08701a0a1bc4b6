"""How the compiled floor comes to be: in a process of its own, once, whoever else is at it; and what happens where it cannot."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from shopsim.engine import compiling

COMPILE = "from shopsim.engine.compiling import compile_into_folder; compile_into_folder()"
#: Loads the floor as a study does, and tells whether it is there, why not, and whether anything had to be compiled for it.
LOAD = """
from shopsim.engine import compiling
compiling.want_compiled(10**9, 1)
if compiling.is_compiled():
    import sys
    print("compiled here" if "numba" in sys.modules else "loaded")
else:
    print(compiling.why_not_compiled() or "not yet")
"""


def run_python(code: str, folder: Path, **more: str) -> str:
    environment = {**os.environ, "SHOPSIM_CACHE": str(folder), "SHOPSIM_COMPILED": "yes", **more}
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, env=environment, timeout=500, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


def code_in(folder: Path) -> list[Path]:
    return sorted(folder.rglob("*.o"))


def wait_for(mark: Path) -> None:
    until = time.monotonic() + 500
    while not mark.exists():
        assert time.monotonic() < until, "compiling has not come to its end"
        time.sleep(0.5)


@pytest.mark.slow
def test_it_is_compiled_beside_the_work_once_and_loaded_from_then_on(tmp_path: Path) -> None:
    own = tmp_path / compiling.folder_of_code().name
    own.mkdir()
    spoilt = own / "simulate_block.o"
    spoilt.write_bytes(b"code of which a part is missing")
    (own / "ready").write_text("what was written once")
    for name, days in (("floor-of-long-ago", 61), ("floor-of-lately", 59)):
        (tmp_path / name).mkdir()
        (tmp_path / name / "ready").write_text("code of another version")
        for path in (tmp_path / name / "ready", tmp_path / name):
            os.utime(path, (time.time() - days * 86_400,) * 2)
    assert run_python(LOAD, tmp_path) == "not yet"  # spoilt files are never run: a process has begun to compile anew
    assert not spoilt.exists()
    assert run_python(LOAD, tmp_path) == "not yet"  # which this one sees, and leaves to it
    run_python(COMPILE, tmp_path)  # one more that asks nobody: neither spoils what the other writes
    wait_for(own / "ready")
    while (own / "begun").exists():
        time.sleep(0.5)
    assert code_in(tmp_path)
    assert run_python(LOAD, tmp_path) == "loaded"
    assert (tmp_path / "floor-of-lately").exists()  # another version that may still be in use
    assert not (tmp_path / "floor-of-long-ago").exists()


def test_a_folder_that_cannot_be_written_means_the_simpy_model_and_a_mend(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")  # in the way of a folder, also for whoever may write anywhere
    said = run_python(LOAD, tmp_path / "file")
    assert (
        said == f"{tmp_path / 'file'} cannot be written (Not a directory) · set SHOPSIM_CACHE to a folder that can be"
    )


def test_without_numba_the_simpy_model_runs(tmp_path: Path) -> None:
    without = "import sys, importlib.abc\nclass No(importlib.abc.MetaPathFinder):\n    def find_spec(self, name, *_):\n"
    without += (
        "        if name.split('.')[0] == 'numba': raise ModuleNotFoundError(name)\nsys.meta_path.insert(0, No())\n"
    )
    assert "numba" in run_python(without + LOAD, tmp_path)
    assert run_python(LOAD, tmp_path, SHOPSIM_COMPILED="no") == "it is switched off (SHOPSIM_COMPILED=no)"


def test_little_work_loads_neither_llvm_nor_the_floor(tmp_path: Path) -> None:
    few = "import sys\nfrom shopsim import load_scenario\nfrom shopsim.study import run_study\n"
    few += "run_study({'now': load_scenario('scenarios/serving-trays.toml')}, replications=20)\nprint({'numba', 'llvmlite'} & set(sys.modules))"
    assert run_python(few, tmp_path) == "set()"
    assert not list(tmp_path.iterdir())


def test_a_command_says_in_one_line_that_it_is_slower_than_it_could_be(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, trays: Path, shopsim: Callable[..., tuple[int, str, str]]
) -> None:
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("SHOPSIM_CACHE", str(tmp_path / "file"))
    monkeypatch.setattr(compiling, "PAYS_S", 0.001)  # as if these were many runs
    monkeypatch.setattr(compiling, "_state", compiling._State())
    code, _, complaints = shopsim("delivery", trays, "--replications", 60)
    assert code == 0
    told = [line for line in complaints.splitlines() if "compiled floor" in line]
    assert len(told) == 1
    assert "set SHOPSIM_CACHE to a folder that can be" in told[0]


def test_where_code_is_kept_follows_from_what_it_was_made_from(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("SHOPSIM_CACHE", str(tmp_path))
    own = compiling.folder_of_code()
    assert own.parent == tmp_path
    monkeypatch.setattr(sys, "version", "another Python")
    assert compiling.folder_of_code() != own


def test_code_of_a_floor_that_says_something_else_is_another_s(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    for name in ("first", "second"):
        (tmp_path / name / "engine").mkdir(parents=True)
        shutil.copytree(Path(compiling.__file__).parent / "compiled", tmp_path / name / "engine" / "compiled")
        shutil.copy(Path(compiling.__file__).parents[1] / "units.py", tmp_path / name)
    ask = compiling._version_of_code.__wrapped__

    def told(name: str) -> str:
        monkeypatch.setattr(compiling, "__file__", str(tmp_path / name / "engine" / "compiling.py"))
        return ask("one Python")

    assert told("first") == told("second")  # wherever it lies and whenever it was put there
    with (tmp_path / "first" / "engine" / "compiled" / "simulate.py").open("a") as file:
        file.write("# another floor\n")
    assert told("first") != told("second")
    before = told("second")
    (tmp_path / "second" / "units.py").write_text("TICKS_PER_MIN = 1\n")
    assert told("second") != before
