"""Changes the engine in places drawn by lot, one at a time in a copy, and counts which changes the tests notice.

    pip install -e ".[test,mutation]"
    python tests/mutation/sample.py --mutants 150 --seed 1     # places drawn by lot
    python tests/mutation/sample.py --seed 4 --modules crew.py work.py    # only in these files
    python tests/mutation/sample.py --on-purpose               # changes that somebody might make

Places are drawn in both floors, in what they are given and leave behind, and in what a study measures. Each change is tried with the quick and telling part of the tests, the most telling first, until one fails. A change
with which the tests hang or end otherwise counts as noticed. What is printed at the end: the share that was noticed
with its 95 % interval (Wilson 1927), the share of each module, and every change that was not noticed. For systems with
``fork``.
"""

from __future__ import annotations

import argparse
import compileall
import contextlib
import importlib
import math
import os
import py_compile
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import traceback
from collections import Counter
from pathlib import Path
from types import ModuleType

import pytest
from on_purpose import ON_PURPOSE, Purpose
from sites import Change, Module, draw_changes

TOP = Path(__file__).resolve().parents[2]
ENGINE = TOP / "shopsim" / "engine"
#: Files that are not drawn from: they only compile or save time, whatever is in them.
LEFT_ALONE = ("__init__.py", "compiling.py", "jit.py", "gc_pause.py")
#: The tests that are tried, in this order: schedules by hand and laws, which notice most and take seconds; then luck and
#: answers, random shops, the quicker of the published figures, and last our own numbers: what only they notice is told.
TRIED = (
    (
        *(f"tests/unit/test_schedules_by_hand_{name}.py" for name in (
            "stations", "clamps", "clamp_kinds", "hands", "hours", "order", "racks_and_air", "room", "runs", "options",
            "options_together", "taking_over",
        )),
        *(f"tests/unit/test_{name}.py" for name in ("record_laws", "account_of_time", "hours", "laws", "own_priority_rule", "study_measures")),
    ),
    (
        *(f"tests/unit/test_{name}.py" for name in (
            "study_use", "luck", "sobol_factors", "learning_from_logs", "beliefs", "day_plan", "answers_holdups", "answers_delivery",
        )),
        "tests/properties/test_compiled_floor.py",
        "tests/unit/test_minute_by_minute.py",
        "tests/studies/test_compiled_studies.py",
        "tests/studies/test_evenly_spread_luck.py",
        "tests/studies/test_what_moves.py",
        "tests/properties",
        *(f"tests/published/test_{name}.py" for name in (
            "calendar", "clamp_answers", "duration_laws", "facts_of_the_trade", "graham", "job_shops", "johnson",
            "learning", "project_scheduling",
        )),
        "tests/golden",
    ),
)  # fmt: skip
#: With --telling: the first of these, and of the others those that notice most for their time.
TELLING = (
    TRIED[0],
    (
        "tests/properties/test_compiled_floor.py",
        "tests/unit/test_luck.py",
        "tests/unit/test_study_use.py",
        "tests/unit/test_minute_by_minute.py",
        "tests/golden",
    ),
)
EXAMPLES = "25"
#: Loaded once, before the tests of each change begin in a process of their own.
LIBRARIES = (
    "numba",
    "numpy",
    "openpyxl",
    "pandas",
    "plotly.graph_objects",
    "pydantic",
    "rich",
    "scipy.stats",
    "simpy",
)
MEMORY = 4 << 30
#: Processor time after which a test counts as one that hangs; the longest takes four seconds.
TEST_S = 20.0
#: Seconds after which all is given up that waits and takes no processor time.
ALL_S = 3600


def copy_project(to: Path) -> None:
    """What the tests need, with code compiled so that a change is seen whatever its size and time of writing."""
    for name in ("pyproject.toml", "README.md", "DEVELOPERS.md"):
        shutil.copy2(TOP / name, to / name)
    for name in ("shopsim", "scenarios", "tests"):
        shutil.copytree(TOP / name, to / name, ignore=shutil.ignore_patterns("__pycache__", ".hypothesis"))
    by_content = py_compile.PycInvalidationMode.CHECKED_HASH
    compileall.compile_dir(to / "shopsim", quiet=1, invalidation_mode=by_content)


def compile_floor(copy: Path) -> bool:
    """Compile the copy's floor as it is now, before the tests, whose time is counted; whether that can be done."""
    code = "from shopsim.engine.compiling import make_ready; make_ready()"
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=copy,
        env={**os.environ, "PYTHONPATH": str(copy)},
        capture_output=True,
        check=False,
    )
    return done.returncode == 0


def run_tests(copy: Path, log: Path, tried: tuple[tuple[str, ...], ...]) -> tuple[bool, str]:
    """(whether all passed, the first that failed or what became of them)."""
    for part in tried:
        child = os.fork()
        if child == 0:
            _be_the_tests(copy, log, part)
        _, status = os.waitpid(child, 0)
        code = os.waitstatus_to_exitcode(status)
        with contextlib.suppress(ProcessLookupError):
            os.killpg(child, signal.SIGKILL)  # what a test that was ended has left
        if code in (-signal.SIGVTALRM, -signal.SIGALRM):
            return False, "a test that does not end"
        if code != 0:
            return False, _first_failure(log, code)
    return True, ""


class _Clock:
    """Ends the process when a test takes too long; as a pytest plug-in it is asked before each of them."""

    def pytest_runtest_setup(self) -> None:
        """Begin to count anew."""
        signal.setitimer(signal.ITIMER_VIRTUAL, TEST_S)


def _be_the_tests(copy: Path, log: Path, part: tuple[str, ...]) -> None:
    """The rest of this process is a run of some of the tests in the copy."""
    os.setsid()
    said = os.open(log, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    os.dup2(said, 1)
    os.dup2(said, 2)
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    signal.setitimer(signal.ITIMER_VIRTUAL, TEST_S)
    signal.alarm(ALL_S)
    os.chdir(copy)
    os.environ |= {"PYTHONPATH": str(copy), "CI": "1"}
    sys.path[:] = [
        str(copy),
        *(path for path in sys.path if Path(path or ".").resolve() not in (TOP, Path(__file__).parent)),
    ]
    sys.modules["__main__"] = ModuleType("__main__")  # what processes of the tests would else load again
    code = 70
    options = ["-x", "-q", "--tb=line", "-p", "no:cacheprovider", "--examples", EXAMPLES]
    try:
        code = int(pytest.main([*options, *part], plugins=[_Clock()]))
    except BaseException:  # nothing may go on from here as if it were the program that began
        traceback.print_exc()
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(code)


def _first_failure(log: Path, code: int) -> str:
    lines = log.read_text(encoding="utf-8", errors="replace").splitlines()
    told = [line.split(" ")[1] for line in lines if line.startswith(("FAILED ", "ERROR "))]
    return told[0] if told else f"exit code {code}"


def wilson(noticed: int, tried: int, z: float = 1.959964) -> tuple[float, float]:
    """95 % interval of a share (Wilson 1927)."""
    share = noticed / tried
    middle = (share + z * z / (2 * tried)) / (1 + z * z / tried)
    half = z / (1 + z * z / tried) * math.sqrt(share * (1 - share) / tried + z * z / (4 * tried * tried))
    return middle - half, middle + half


def make_on_purpose(purpose: Purpose) -> Change:
    """The change of a file that a line of the list asks for."""
    path = TOP / "shopsim" / purpose.file
    code = path.read_text(encoding="utf-8")
    if code.count(purpose.before) != 1:
        sys.exit(f"on_purpose.py · {purpose.what} · {purpose.file} must hold this once:\n{purpose.before}")
    line = code[: code.index(purpose.before)].count("\n") + 1
    return Change(path, line, purpose.what, purpose.after, code.replace(purpose.before, purpose.after))


def try_changes(changes: list[tuple[int, Change]], tests: tuple[tuple[str, ...], ...]) -> None:
    """Try each in a copy of the project, and tell."""
    for name in LIBRARIES:
        importlib.import_module(name)
    with tempfile.TemporaryDirectory(prefix="changed-engine-") as folder:
        copy, log = Path(folder) / "project", Path(folder) / "log"
        copy.mkdir()
        copy_project(copy)
        os.environ["SHOPSIM_CACHE"] = str(Path(folder) / "code")
        if not compile_floor(copy):
            sys.exit("the compiled floor cannot be compiled without any change")
        since = time.monotonic()
        passed, first = run_tests(copy, log, tests)
        if not passed:
            sys.exit(f"the tests fail without any change: {first}\n{log.read_text(encoding='utf-8')[-3000:]}")
        print(f"without any change: all pass in {time.monotonic() - since:.0f} s", flush=True)
        sys.dont_write_bytecode = True
        tried: Counter[str] = Counter()
        pinned = 0
        missed: list[tuple[int, Change]] = []
        for number, change in changes:
            place = copy / change.path.relative_to(TOP)
            kept = place.read_text(encoding="utf-8")
            place.write_text(change.code, encoding="utf-8")
            passed, first = False, "it cannot be compiled"
            if "compiled" not in change.path.parts or compile_floor(copy):
                passed, first = run_tests(copy, log, tests)
            place.write_text(kept, encoding="utf-8")
            tried[change.path.name] += 1
            pinned += first.startswith("tests/golden")
            if passed:
                missed.append((number, change))
            print(f"{number:4} {'NOT NOTICED' if passed else first} · {say(change)}", flush=True)
    tell(tried, missed, pinned)


def say(change: Change) -> str:
    """Where, and what became of what."""
    return f"{change.path.relative_to(TOP)}:{change.line} · {change.before} -> {change.after}"


def tell(tried: Counter[str], missed: list[tuple[int, Change]], pinned: int) -> None:
    """Share noticed, with its interval, by module, and what was not; ``pinned``: noticed only by our own numbers."""
    left = Counter(change.path.name for _, change in missed)
    n = tried.total()
    low, high = wilson(n - left.total(), n)
    print(f"\n{n - left.total()} of {n} changes noticed: {100 * (1 - left.total() / n):.1f} %", end=" ")
    print(f"(95 % interval {100 * low:.1f} to {100 * high:.1f} %), {pinned} of them only by our own pinned numbers")
    for name, count in sorted(tried.items()):
        print(f"  {name:<18} {count - left[name]:>3} of {count}")
    for number, change in missed:
        print(f"not noticed: {number} · {say(change)}")


def main() -> None:
    """Read the options and try the changes."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    options.add_argument("--mutants", type=int, default=100, help="how many changes are drawn (default 100)")
    options.add_argument("--seed", type=int, default=1, help="which ones: the same seed draws the same (default 1)")
    options.add_argument("--modules", nargs="*", default=[], help="only these files, as crew.py")
    options.add_argument("--numbers", type=int, nargs="*", default=[], help="only these of the changes drawn")
    options.add_argument("--on-purpose", action="store_true", help="the changes in on_purpose.py instead")
    options.add_argument(
        "--telling",
        action="store_true",
        help="with the most telling tests only: what they leave is tried again without this",
    )
    options.add_argument("--list", action="store_true", help="show the changes and try none")
    asked = options.parse_args()
    if asked.on_purpose:
        drawn = [make_on_purpose(purpose) for purpose in ON_PURPOSE]
    else:
        all_paths = [*sorted(ENGINE.rglob("*.py")), TOP / "shopsim" / "study" / "measures.py"]
        paths = [path for path in all_paths if path.name not in LEFT_ALONE]
        if asked.modules:
            paths = [path for path in paths if path.name in asked.modules]
        drawn = draw_changes([Module(path) for path in paths], asked.mutants, asked.seed)
    changes = [(n, change) for n, change in enumerate(drawn, start=1) if not asked.numbers or n in asked.numbers]
    if not changes:
        sys.exit("no changes to try")
    if asked.list:
        for number, change in changes:
            print(f"{number:4} {say(change)}")
        return
    try_changes(changes, TELLING if asked.telling else TRIED)


if __name__ == "__main__":
    main()
