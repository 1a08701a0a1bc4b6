"""It holds that README shows what the program prints; our own numbers, pinned (golden).

After a change that is meant: ``python tests/packaging/readme_output.py --update``, and read the difference.
"""

from __future__ import annotations

import re
import runpy
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.slow

TOP = Path(__file__).resolve().parents[2]


TOOL = runpy.run_path(str(Path(__file__).with_name("readme_output.py")))


def test_readme_shows_what_the_program_prints() -> None:
    text = (TOP / "README.md").read_text(encoding="utf-8")
    assert len(TOOL["BLOCK"].findall(text)) == text.count("```console")
    assert TOOL["refresh"](text).splitlines() == text.splitlines()


def test_lines_left_out_are_marked() -> None:
    assert TOOL["pick_lines"](["a", "b", "c", "d"], "1-2 4") == ["a", "b", "[...]", "d"]
    assert TOOL["pick_lines"](["a", "b", "c"], "1-2") == ["a", "b", "[...]"]
    assert TOOL["pick_lines"](["a", "b"], None) == ["a", "b"]


def test_the_toolkit_example_runs_as_it_stands(tmp_path: Path) -> None:
    text = (TOP / "README.md").read_text(encoding="utf-8")
    (block,) = re.findall(r"^```python\n(.*?)^```$", text, flags=re.MULTILINE | re.DOTALL)
    assert sum(bool(line.strip()) for line in block.splitlines()) <= 10
    script = tmp_path / "example.py"
    script.write_text(f"import sys\nsys.path.insert(0, {str(TOP)!r})\n{block}", encoding="utf-8")
    done = subprocess.run([sys.executable, str(script)], capture_output=True, text=True, check=False, cwd=TOP)
    assert (done.returncode, done.stderr) == (0, "")
    assert "counter stool is out soonest" in done.stdout
    assert done.stdout.count("2027-") >= 8
