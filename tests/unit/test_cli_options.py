"""It holds that what is typed wrongly is told in one line with what would be right, and that help helps."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from shopsim.cli.cores import default_jobs
from shopsim.limits import MAX_JOBS

Command = Callable[..., tuple[int, str, str]]
COMMANDS = ("check", "once", "decide", "batches", "clamps", "delivery", "schema")


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help_with_examples(shopsim: Command, command: str) -> None:
    code, out, err = shopsim(command, "--help")
    assert (code, err) == (0, "")
    assert f"shopsim {command}" in out
    assert "examples:" in out


def test_help_names_every_command_and_the_exit_codes(shopsim: Command) -> None:
    code, out, _ = shopsim("--help")
    assert code == 0
    for command in COMMANDS:
        assert f"    {command} " in out
    assert "0 done" in out
    assert "3 stopped" in out


def test_version_is_that_of_the_package(shopsim: Command) -> None:
    assert shopsim("--version") == (0, "shopsim 0.1.0\n", "")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "required: COMMAND"),
        (("decode", "FILE"), "invalid choice: 'decode'"),
        (("once",), "required: FILE"),
        (("once", "FILE", "--lkely"), "unrecognized arguments: --lkely"),
        (("once", "FILE", "--like"), "unrecognized arguments: --like"),
        (("once", "FILE", "--seed", "x"), '--seed: "x" is not a whole number; write one from 0'),
        (("once", "FILE", "--seed", "1.5"), '"1.5" is not a whole number'),
        (("once", "FILE", "--seed=-1"), "-1 is out of range"),
        (("once", "FILE", "--replication=-1"), "write a number from 0 to 100000"),
        (("decide", "FILE", "--replications=-5"), "-5 is out of range; write a number from 1 to 100000"),
        (("decide", "FILE", "--replications", "100001"), "100001 is out of range"),
        (("decide", "FILE", "--jobs", "0"), "write a number from 1 to 64"),
        (("decide", "FILE", "--jobs", "65"), "write a number from 1 to 64"),
        (("batches", "FILE", "--sizes", "5,x"), '--sizes: "x" is not a whole number'),
        (("batches", "FILE", "--sizes", "5,,6"), '--sizes: "" is not a whole number'),
        (("batches", "FILE", "--sizes", "0"), "0 is out of range"),
        (("clamps", "FILE", "--add", "4;8"), '--add: "4;8" is not a whole number'),
        (("delivery", "FILE", "--orders", "40..5"), "40 is more than 5; write the fewest first, like 5..40"),
        (("delivery", "FILE", "--orders", "1..2..3"), "write 18, or 5..40"),
        (("delivery", "FILE", "--orders", "1..900"), "900 numbers of orders are too many"),
        (("delivery", "FILE", "--confidence", "sure"), '"sure" is not a number; write percent, like 80'),
        (("delivery", "FILE", "--confidence", "100"), "100 is out of range"),
        (("delivery", "FILE", "--confidence", "nan"), "nan is out of range"),
    ],
)
def test_what_is_typed_wrongly_is_told(shopsim: Command, words: tuple[str, ...], said: str) -> None:
    code, out, err = shopsim(*words)
    assert (code, out) == (2, "")
    assert said in " ".join(err.split())
    assert "Traceback" not in err


@pytest.mark.parametrize("command", ["once", "decide", "batches", "clamps", "delivery"])
def test_a_folder_that_cannot_be_written_is_refused_before_anything_runs(
    shopsim: Command, trays: Path, tmp_path: Path, command: str
) -> None:
    (tmp_path / "taken").write_text("mine", encoding="utf-8")
    code, out, err = shopsim(command, trays, "--out", tmp_path / "taken" / "below")
    assert (code, out) == (2, "")
    assert "taken/below · cannot be made" in err


def test_all_cores_are_used_unless_it_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("os.sched_getaffinity", lambda _pid: set(range(200)), raising=False)
    assert default_jobs() == MAX_JOBS
    monkeypatch.setattr("os.sched_getaffinity", lambda _pid: {0, 1, 2}, raising=False)
    assert default_jobs() == 3
