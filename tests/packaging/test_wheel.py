"""It holds that what is installed is the whole package and nothing else."""

from __future__ import annotations

import shutil
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

from shopsim.app.main import PAGES

TOP = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> zipfile.ZipFile:
    """A wheel built from a copy of the sources, without asking any registry."""
    source = tmp_path_factory.mktemp("source")
    shutil.copytree(TOP / "shopsim", source / "shopsim", ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md"):
        shutil.copy(TOP / name, source / name)
    out = tmp_path_factory.mktemp("wheel")
    build = [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--no-build-isolation", "--no-index"]
    done = subprocess.run([*build, "--wheel-dir", str(out), str(source)], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    (built,) = out.glob("*.whl")
    return zipfile.ZipFile(built)


def test_the_wheel_holds_every_module_and_nothing_else(wheel: zipfile.ZipFile) -> None:
    wanted = {
        path.relative_to(TOP).as_posix()
        for path in (TOP / "shopsim").rglob("*")
        if path.is_file() and "__pycache__" not in path.parts and path.suffix not in (".md", ".png")
    }
    held = {name for name in wheel.namelist() if ".dist-info/" not in name}
    assert held == wanted
    assert "shopsim/py.typed" in held


def test_the_wheel_holds_the_app_with_its_pages_its_start_and_its_examples(wheel: zipfile.ZipFile) -> None:
    held = set(wheel.namelist())
    pages = {f"shopsim/app/pages/{path.name}" for path in (TOP / "shopsim" / "app" / "pages").glob("*.py")}
    assert len(pages) > len(PAGES) / 2
    examples = {f"shopsim/app/examples/{path.name}" for path in (TOP / "scenarios").glob("*.toml")}
    assert pages | examples | {"shopsim/app/entry/small_batches.py", "shopsim/app/launch.py"} <= held
    for name in examples:
        assert wheel.read(name) == (TOP / "scenarios" / Path(name).name).read_bytes()


def test_the_wheel_installs_one_command(wheel: zipfile.ZipFile) -> None:
    (name,) = [name for name in wheel.namelist() if name.endswith("entry_points.txt")]
    lines = wheel.read(name).decode().split()
    assert lines == ["[console_scripts]", "shopsim", "=", "shopsim.cli:main"]


def test_the_wheel_asks_for_what_the_project_names(wheel: zipfile.ZipFile) -> None:
    (name,) = [name for name in wheel.namelist() if name.endswith("METADATA")]
    said = wheel.read(name).decode()
    project = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    plain = [line for line in said.splitlines() if line.startswith("Requires-Dist:") and "extra ==" not in line]
    assert sorted(line.removeprefix("Requires-Dist: ") for line in plain) == sorted(project["dependencies"])
    assert f"Version: {project['version']}" in said
    assert "Requires-Python: >=3.11" in said
