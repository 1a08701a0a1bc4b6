"""It holds that every change that somebody might make on purpose can still be made: its text stands in its file once."""

from __future__ import annotations

import runpy
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]


def test_every_change_made_on_purpose_finds_its_place() -> None:
    purposes = runpy.run_path(str(TOP / "tests" / "mutation" / "on_purpose.py"))["ON_PURPOSE"]
    assert len(purposes) > 50
    lost = [
        f"{purpose.file}: {purpose.what}"
        for purpose in purposes
        if (TOP / "shopsim" / purpose.file).read_text(encoding="utf-8").count(purpose.before) != 1
    ]
    assert lost == []
