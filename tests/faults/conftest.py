"""A scenario to run commands on, and the system that these tests are about."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

#: Signals, limits and processes are looked at the way only Linux has them; elsewhere there is nothing here to collect.
collect_ignore_glob = [] if sys.platform == "linux" else ["test_*.py"]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with a small scenario and a log of times for it."""
    text = (Path(__file__).parents[1] / "bad_input" / "files" / "trays.toml").read_text(encoding="utf-8")
    (tmp_path / "trays.toml").write_text(text)
    (tmp_path / "log.csv").write_text("operation,piece,minutes\nsand,1,22\nsand,2,25\n")
    return tmp_path


@pytest.fixture
def trays(folder: Path) -> Path:
    """The small scenario in that folder."""
    return folder / "trays.toml"
