"""It holds that README and DEVELOPERS say what is true: commands that can be typed, files that are there."""

from __future__ import annotations

import re
import runpy
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


def test_every_link_leads_somewhere() -> None:
    for text in (README, DEVELOPERS):
        for target in re.findall(r"\]\((?!https?:)([^)#]+)", text):
            assert (TOP / target).exists(), target


def test_the_plan_in_developers_md_is_the_house_as_it_is() -> None:
    tool = runpy.run_path(str(Path(__file__).with_name("house_plan.py")))
    assert "  cli/" in DEVELOPERS
    assert tool["refresh"](DEVELOPERS).splitlines() == DEVELOPERS.splitlines()


def test_every_file_of_the_house_says_what_it_is() -> None:
    tool = runpy.run_path(str(Path(__file__).with_name("house_plan.py")))
    files = [path for path in (TOP / "shopsim").rglob("*.py") if path.name != "__init__.py" or path.stat().st_size]
    assert [str(path.relative_to(TOP)) for path in files if not tool["first_line"](path)] == []
