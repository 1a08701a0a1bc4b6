"""It holds that README, DEVELOPERS and the pages of the rooms say what is true: commands that can be typed, files that are there."""

from __future__ import annotations

import ast
import re
import shlex
import tomllib
from pathlib import Path

import pytest

from shopsim.cli.options import build_parser
from shopsim.scenario import read_scenario_text

TOP = Path(__file__).resolve().parents[2]
README = (TOP / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (TOP / "DEVELOPERS.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"^```(\w*)\n(.*?)^```$", README, flags=re.MULTILINE | re.DOTALL)
COMMANDS = [
    line.removeprefix("$ ").split("  #")[0].strip()
    for kind, block in BLOCKS
    for line in block.splitlines()
    if line.startswith({"console": "$ shopsim ", "sh": "shopsim "}.get(kind, "\0"))
]


def test_readme_opens_with_the_job_in_one_paragraph_and_then_two_commands() -> None:
    parts = [part for part in README.split("\n\n") if part.strip()]
    assert parts[0].startswith("# ")
    assert len(parts[1]) > 300
    assert not parts[1].startswith(("#", "-", "`", "|"))
    first, second = [block.strip() for _, block in BLOCKS[:2]]
    assert README.index(first) > README.index(parts[1])
    assert "\n" not in first
    assert "\n" not in second


def test_the_first_command_decides_on_a_scenario_that_is_there() -> None:
    command = BLOCKS[0][1].strip()
    steps = [shlex.split(step) for step in command.split(" && ")]
    assert steps[0] == ["python3", "-m", "venv", ".venv"]
    assert steps[1] == [".venv/bin/pip", "install", "-q", "."]
    assert steps[2][0] == ".venv/bin/shopsim"
    args = build_parser().parse_args(steps[2][1:])
    assert args.command == "decide"
    assert (TOP / args.file).is_file()


def test_the_second_command_is_the_one_that_the_script_takes() -> None:
    command = BLOCKS[1][1].strip()
    pattern = re.compile(r"^python3 -m venv .* -m pytest -n auto$", re.MULTILINE)
    assert pattern.findall(README) == [command]
    assert "grep -E '^python3 -m venv .* -m pytest -n auto$' README.md" in (TOP / ".ci" / "run").read_text(
        encoding="utf-8"
    )
    extras = re.findall(r'install -q "\.\[(\w+)\]"', command)
    project = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert extras == ["test"]
    tools = {re.split(r"[<>=\[ ]", need)[0] for need in project["optional-dependencies"]["test"]}
    assert {"pytest", "hypothesis", "ruff", "mypy", "setuptools"} <= tools


def test_there_is_a_line_for_windows() -> None:
    assert any(r".venv\Scripts" in line for line in README.splitlines())


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_shown_can_be_typed(command: str) -> None:
    words = shlex.split(command)[1:]
    if words in (["--help"], ["--version"]):
        return
    args = build_parser().parse_args(words)
    named = getattr(args, "file", "")
    assert not named.startswith("scenarios/") or (TOP / named).is_file()


def test_commands_are_shown() -> None:
    assert len(COMMANDS) >= 8
    shown = {shlex.split(command)[1] for command in COMMANDS}
    assert {"check", "once", "decide", "batches", "clamps", "delivery", "schema"} <= shown


def test_every_whole_file_shown_is_right() -> None:
    whole = [block for kind, block in BLOCKS if kind == "toml" and "[run]" in block]
    assert whole
    for text in whole:
        assert read_scenario_text(text).faults == ()


def pages() -> list[Path]:
    """README.md and DEVELOPERS.md, and the README of every room."""
    rooms = [path for top in ("shopsim", "scenarios", "tests") for path in (TOP / top).rglob("README.md")]
    return [TOP / "README.md", TOP / "DEVELOPERS.md", *sorted(rooms)]


@pytest.mark.parametrize("page", pages(), ids=lambda page: str(page.relative_to(TOP)))
def test_every_link_leads_somewhere(page: Path) -> None:
    for target in re.findall(r"\]\((?!https?:)([^)#]+)", page.read_text(encoding="utf-8")):
        assert (page.parent / target).exists(), target


@pytest.mark.parametrize("page", pages(), ids=lambda page: str(page.relative_to(TOP)))
def test_every_module_named_is_there(page: Path) -> None:
    files = [path.as_posix() for top in ("shopsim", "tests") for path in (TOP / top).rglob("*.py")] + [
        str(TOP / "app.py")
    ]
    named = re.findall(r"`(?:python )?([\w./]+\.py)\b", page.read_text(encoding="utf-8"))
    assert [name for name in named if not any(path.endswith(f"/{name}") for path in files)] == []


def test_the_pages_that_are_read_first_are_short() -> None:
    assert len(README.splitlines()) <= 200
    assert README.splitlines().index("## Your own file") < 60
    assert len(DEVELOPERS.splitlines()) <= 200


def first_line(path: Path) -> str:
    """The first line of what a file says of itself; empty where it says nothing."""
    return (ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or "").split("\n")[0].strip()


def test_every_file_of_the_house_says_what_it_is() -> None:
    files = [path for path in (TOP / "shopsim").rglob("*.py") if path.name != "__init__.py" or path.stat().st_size]
    assert [str(path.relative_to(TOP)) for path in files if not first_line(path)] == []


def test_every_docstring_stands_for_itself() -> None:
    leaning = []
    for path in [*(TOP / "shopsim").rglob("*.py"), *(TOP / "tests").rglob("*.py")]:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
                said = ast.get_docstring(node) or ""
                if re.match(r"the same\b", said, re.IGNORECASE):
                    leaning.append(f"{path.relative_to(TOP)}:{getattr(node, 'lineno', 1)}: {said.splitlines()[0]}")
    assert leaning == []
