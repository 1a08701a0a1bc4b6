"""How broken files are given to the program: by the library and by the command, in a folder of their own."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from shopsim.cli import main
from shopsim.scenario import read_scenario

Tell = Callable[..., list[str]]


@pytest.fixture
def tell(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Tell:
    """All that is told of a broken file in the test's folder, by ``read_scenario`` and ``shopsim check`` alike.

    ``tell("trays.toml")`` gives a line for each fault; the command must leave with 2 and print nothing else.
    """
    monkeypatch.chdir(tmp_path)

    def told(name: str) -> list[str]:
        reading = read_scenario(name)
        assert reading.scenario is None
        lines = [str(fault) for fault in reading.faults]
        code = main(["check", name])
        said = capsys.readouterr()
        assert code == 2
        assert said.out == ""
        assert said.err.splitlines() == [*lines, f"{len(lines)} fault{'s' if len(lines) > 1 else ''}"]
        return lines

    return told
