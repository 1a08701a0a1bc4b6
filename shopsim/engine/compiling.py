"""Whether the compiled floor is there, and how it comes to be: compiled once a machine and version, in a process of its own.

Until it is there, and wherever it cannot be, the SimPy model runs; the records are the same. Machine code is kept in the
user's folder for caches, in a folder of its own for each version of the floor, of numba and of the processor. This module
loads neither numba nor the floor before it is asked to.
"""

from __future__ import annotations

import hashlib
import importlib
import importlib.util
import logging
import os
import shutil
import subprocess
import sys
import threading
import time
from contextlib import suppress
from functools import cache
from importlib.metadata import version
from pathlib import Path
from types import ModuleType

from platformdirs import user_cache_path

from shopsim.engine.plan import SimulationPlan
from shopsim.scenario.writing import write_text_safely

_log = logging.getLogger(__name__)

#: Set to "no", nothing is compiled and the SimPy model makes every run; another folder for machine code.
SWITCH, FOLDER = "SHOPSIM_COMPILED", "SHOPSIM_CACHE"
#: Seconds of work with the SimPy model, all in this process together, from which it pays to load the compiled floor.
PAYS_S = 0.3
#: What a task costs with the SimPy model, in seconds, about.
TASK_S = 5e-6
#: Seconds between two looks whether compiling has come to its end, and after which it is taken for broken off.
LOOK_S, GIVE_UP_S = 0.5, 600.0
_READY, _BEGUN = "ready", "begun"
#: Days after which code of another version that nothing has loaded is removed.
UNUSED_DAYS = 60


class _State:
    """What is known in this process."""

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self.blocks: ModuleType | None = None
        self.reason = ""  # why the compiled floor cannot be had
        self.looked_at = -1e9
        self.wanted, self.asked_s = False, 0.0
        self.kept, self.sought_at = False, -1e9


_state = _State()


def find_compiled(plan: SimulationPlan) -> ModuleType | None:
    """The compiled floor (``compiled/blocks.py``) if it is loaded and can run this plan; None: the SimPy model runs it.

    A priority rule of the user's own is the SimPy model's, and so is a plan that holds a starting state itself.
    """
    if plan.rank is not None or plan.starting is not None:
        return None
    if _state.blocks is None and _state.wanted:
        _look_again()
    return _state.blocks


def is_compiled() -> bool:
    """Whether the compiled floor is loaded."""
    return _state.blocks is not None


def is_kept() -> bool:
    """Whether machine code for this machine is there, so that another process has the compiled floor in a moment."""
    if _state.blocks is not None:
        return True
    if is_switched_off() or _state.reason or time.monotonic() - _state.sought_at < LOOK_S:
        return _state.kept
    _state.sought_at = time.monotonic()
    with suppress(Exception):  # whatever is wrong, those who want the floor will say
        _state.kept = (folder_of_code() / _READY).exists()
    return _state.kept


def want_compiled(n_runs: int, n_tasks: int) -> None:
    """So many runs of so many tasks are to come in this process.

    Once all that was to come is enough for it to pay, the compiled floor is loaded, or compiled if it is not there.
    """
    _state.asked_s += n_runs * n_tasks * TASK_S
    if not _state.wanted and _state.asked_s >= PAYS_S:
        _state.wanted = True
        _look_again()


def why_not_compiled() -> str:
    """Why the compiled floor cannot be had on this machine, in words; empty where it can."""
    return _state.reason


def load_now() -> None:
    """Load the compiled floor; where it is not there yet, compile it here, or wait for whoever is at it.

    For tests and measurements. Raises whatever is wrong with numba or its files.
    """
    with _state.lock:
        _state.wanted = True
        if _state.blocks is None:
            make_ready()
            _load(folder_of_code())


def make_ready() -> None:
    """Compile the floor here if it is not there yet, or wait for whoever is at it."""
    folder = folder_of_code()
    while not _is_ready(folder):
        if _claim(folder):
            compile_into_folder()
        else:
            time.sleep(LOOK_S)


def _look_again() -> None:
    if _state.reason or time.monotonic() - _state.looked_at < LOOK_S:
        return
    with _state.lock:
        if _state.blocks is not None or _state.reason or time.monotonic() - _state.looked_at < LOOK_S:
            return
        _state.looked_at = time.monotonic()
        try:
            _load_or_begin()
        except Exception as error:  # whatever is wrong with numba, its files or the folder: there is the SimPy model
            _give_up(f"{type(error).__name__}: {error}".splitlines()[0])


def _load_or_begin() -> None:
    if is_switched_off():
        _give_up(f"it is switched off ({SWITCH}=no)")
        return
    if importlib.util.find_spec("numba") is None:
        _give_up("numba is not installed · install it with pip")
        return
    folder = folder_of_code()
    if _is_ready(folder):
        _load(folder)
        return
    try:
        if _claim(folder):
            _begin_to_compile()
    except OSError as error:
        where = f"{folder.parent} cannot be written ({error.strerror})"
        _give_up(f"{where} · set {FOLDER} to a folder that can be")


def is_switched_off() -> bool:
    """Whether the user wants the SimPy model to make every run."""
    return os.environ.get(SWITCH, "").lower() in ("no", "0", "off")


def _give_up(reason: str) -> None:
    _state.reason = reason
    _log.info("the SimPy model makes every run: %s", reason)


def _is_ready(folder: Path) -> bool:
    """Whether all machine code is there, as it was written; what is spoilt is thrown away."""
    mark = folder / _READY
    if not mark.exists():
        return False
    if _digest(folder) == mark.read_text():
        return True
    shutil.rmtree(folder)
    return False


def _claim(folder: Path) -> bool:
    """Whether it falls to this process to see that the floor is compiled; not while another is at it."""
    folder.mkdir(parents=True, exist_ok=True)
    begun = folder / _BEGUN
    try:
        begun.touch(exist_ok=False)
        return True
    except FileExistsError:
        pass
    try:
        if time.time() - begun.stat().st_mtime < GIVE_UP_S:
            return False
    except FileNotFoundError:  # just ended
        return False
    begun.touch()
    return True


def _digest(folder: Path) -> str:
    """What stands for all machine code in a folder."""
    said = hashlib.sha256()
    for file in sorted(folder.glob("*.o")):
        said.update(file.name.encode() + file.read_bytes())
    return said.hexdigest()


def folder_of_code() -> Path:
    """Where the machine code of this version of the floor is kept, for this machine."""
    top = os.environ.get(FOLDER)
    return (Path(top) if top else user_cache_path("shopsim")) / f"floor-{_version_of_code(sys.version)}"


@cache
def _version_of_code(python: str) -> str:
    """What machine code hangs on: what its source says, numba, LLVM, Python and the processor."""
    import llvmlite.binding as llvm

    said = hashlib.sha256()
    for part in (version("numba"), version("llvmlite"), python, llvm.get_host_cpu_name()):
        said.update(part.encode())
    here = Path(__file__).parent
    for file in (here.parent / "units.py", *sorted((here / "compiled").glob("*.py"))):
        said.update(file.name.encode() + file.read_bytes())
    return said.hexdigest()[:16]


def _load(folder: Path) -> None:
    """Load the floor from its folder."""
    machine_code = importlib.import_module("shopsim.engine.compiled.machine_code")
    machine_code.load(folder)
    with suppress(OSError):  # a folder that can be read and not written
        os.utime(folder / _READY)
    _state.blocks = importlib.import_module("shopsim.engine.compiled.blocks")


def _remove_unused(folder: Path) -> None:
    """Remove the code of other versions that nothing has loaded for ``UNUSED_DAYS``."""
    for other in folder.parent.glob("floor-*"):
        marks = [mark.stat().st_mtime for mark in (other / _READY, other / _BEGUN, other) if mark.exists()]
        if other != folder and marks and time.time() - max(marks) > UNUSED_DAYS * 86_400:
            shutil.rmtree(other, ignore_errors=True)


def _begin_to_compile() -> None:
    """Begin a process that compiles."""
    subprocess.Popen(
        [sys.executable, "-c", "from shopsim.engine import compiling as c; c.be_modest(); c.compile_into_folder()"],
        stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True,
    )  # fmt: skip


def be_modest() -> None:
    """Whatever else the machine is doing goes first."""
    if hasattr(os, "nice"):
        os.nice(10)


def compile_into_folder() -> None:
    """Compile the floor into its folder, and leave a mark when all of it is there."""
    folder = folder_of_code()
    folder.mkdir(parents=True, exist_ok=True)
    try:
        if not _is_ready(folder):
            importlib.import_module("shopsim.engine.compiled.code_builder").build_code(folder)
            write_text_safely(folder / _READY, _digest(folder))
            _remove_unused(folder)
    finally:
        (folder / _BEGUN).unlink(missing_ok=True)
