"""What README shows of the program's output, made anew: the numbers in it are ours, pinned.

    python tests/packaging/readme_output.py --update

A block that begins with ```console holds one command after ``$`` and what it prints. A comment
before it, ``<!-- lines 1-9 40-52 -->``, says which lines of the output are shown; ``[...]``
stands for those left out.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import shlex
import sys
from pathlib import Path

from shopsim.cli import main

TOP = Path(__file__).resolve().parents[2]
README = TOP / "README.md"
BLOCK = re.compile(
    r"^(?:<!-- lines (?P<lines>[\d\- ]+) -->\n)?```console\n\$ (?P<command>shopsim .*)\n(?P<shown>(?:.*\n)*?)```$",
    flags=re.MULTILINE,
)
CUT = "[...]"


def run_command(command: str) -> list[str]:
    """The lines that a command prints, output and complaints, in the project's folder at 100 columns."""
    printed = io.StringIO()
    here, width = Path.cwd(), os.environ.get("COLUMNS")
    os.chdir(TOP)
    os.environ["COLUMNS"] = "100"
    try:
        with contextlib.redirect_stdout(printed), contextlib.redirect_stderr(printed):
            main(shlex.split(command)[1:])
    finally:
        os.chdir(here)
        os.environ.pop("COLUMNS")
        if width is not None:
            os.environ["COLUMNS"] = width
    return printed.getvalue().splitlines()


def pick_lines(printed: list[str], wanted: str | None) -> list[str]:
    """The lines that are shown: all, or ranges counted from 1 with CUT between them and after the last."""
    if wanted is None:
        return printed
    shown: list[str] = []
    last = 0
    for span in wanted.split():
        first, _, end = span.partition("-")
        if shown and int(first) > last + 1:
            shown.append(CUT)
        last = int(end or first)
        shown += printed[int(first) - 1 : last]
    return shown if last >= len(printed) else [*shown, CUT]


def refresh(text: str) -> str:
    """README's text with every block as the program prints it now."""

    def fill(found: re.Match[str]) -> str:
        comment = f"<!-- lines {found['lines']} -->\n" if found["lines"] else ""
        shown = "\n".join(pick_lines(run_command(found["command"]), found["lines"]))
        return f"{comment}```console\n$ {found['command']}\n{shown}\n```"

    return BLOCK.sub(fill, text)


if __name__ == "__main__":
    old = README.read_text(encoding="utf-8")
    new = refresh(old)
    if "--update" in sys.argv[1:]:
        README.write_text(new, encoding="utf-8")
    sys.exit(0 if new == old or "--update" in sys.argv[1:] else "README.md does not show what the program prints")
