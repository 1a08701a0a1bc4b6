"""It holds that no file of the project names a machine, a registry, or work left undone."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]
LEFT_OUT = {
    ".git", ".venv", "build", "dist", "out", "htmlcov", "__pycache__", ".pytest_cache", ".mypy_cache", ".ruff_cache",
    ".hypothesis", "shopsim.egg-info",
}  # fmt: skip

# Written in halves, so that this file does not hold what it looks for.
HOSTS = "|".join(("py" + r"pi\.o" + "rg", "pythonhos" + "ted", r"registry\.np" + "mjs", r"deb\.deb" + "ian"))
PATHS = "|".join((r"(?<![\w.])/wo" + "rk/", "/fa" + "rm/", "/ro" + "ot/", "/tmp/ba" + "sh_jobs", "/tmp/e" + "nv"))
UNDONE = r"\b(?:" + "|".join(("TO" + "DO", "FIX" + "ME", "XX" + "X", "HA" + "CK")) + r")\b"


def project_files() -> list[Path]:
    """The files git knows of; where there is no git, all but those that tools leave behind."""
    if (TOP / ".git").exists():
        asked = ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
        names = subprocess.run(asked, cwd=TOP, capture_output=True, text=True, check=True).stdout.split("\0")
        found = [TOP / name for name in names if name]
    else:
        found = [path for path in TOP.rglob("*") if not LEFT_OUT & set(path.relative_to(TOP).parts)]
    return [path for path in found if path.is_file()]


def lines_with(pattern: str) -> list[str]:
    found = []
    for path in project_files():
        text = path.read_bytes().decode("utf-8", "replace")
        for number, line in enumerate(text.splitlines(), start=1):
            if re.search(pattern, line):
                found.append(f"{path.relative_to(TOP)}:{number}: {line.strip()[:120]}")
    return found


def test_the_list_of_files_is_the_projects() -> None:
    names = {path.relative_to(TOP).as_posix() for path in project_files()}
    assert {"README.md", "DEVELOPERS.md", "pyproject.toml", ".ci/run", "shopsim/cli/__init__.py"} <= names


def test_no_file_names_a_registry_host() -> None:
    assert lines_with(HOSTS) == []


def test_no_file_names_a_path_of_some_machine() -> None:
    assert lines_with(PATHS) == []


def test_no_file_names_work_left_undone() -> None:
    assert lines_with(UNDONE) == []


def test_the_patterns_find_what_they_look_for() -> None:
    assert re.search(HOSTS, "https://py" + "pi.o" + "rg/simple")
    assert re.search(PATHS, "see /wo" + "rk/main and so on")
    assert not re.search(PATHS, "wood/wo" + "rk/place")
    assert re.search(UNDONE, "# TO" + "DO: later")


def test_the_script_that_checks_all_can_be_run() -> None:
    script = TOP / ".ci" / "run"
    assert script.stat().st_mode & 0o111
    assert script.read_text(encoding="utf-8").startswith("#!/usr/bin/env bash\n")
