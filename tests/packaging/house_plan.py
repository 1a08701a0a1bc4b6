"""The plan of the house in DEVELOPERS.md, drawn from what each file says of itself in its first line.

python tests/packaging/house_plan.py --update
"""

from __future__ import annotations

import ast
import re
import sys
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]
DEVELOPERS = TOP / "DEVELOPERS.md"
PLAN = re.compile(r"(?<=^```text\n)shopsim/\n(?:.*\n)*?(?=```$)", flags=re.MULTILINE)
#: Top-level parts in the order in which they build on each other.
ORDER = (
    "__init__",
    "errors",
    "units",
    "laws",
    "priority",
    "scenario",
    "engine",
    "study",
    "answers",
    "charts",
    "export",
    "report",
    "cli",
    "app",
)


def first_line(path: Path) -> str:
    """The first line of a file's docstring; empty where it has none."""
    said = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or ""
    return said.split("\n")[0].strip()


def draw_folder(folder: Path, depth: int) -> list[str]:
    """A line for a folder, then one for each file and folder in it."""
    indent = "  " * depth
    own = folder / "__init__.py"
    lines = [f"{indent}{folder.name}/".ljust(26) + (first_line(own) if depth and own.exists() else "")]
    inner = [path for path in folder.iterdir() if path.suffix == ".py" or (path.is_dir() and any(path.rglob("*.py")))]
    for path in sorted(inner, key=lambda path: _place(path, depth)):
        if path.is_dir():
            lines += draw_folder(path, depth + 1)
        elif path.name != "__init__.py" or not depth:
            lines.append(f"{indent}  {path.name}".ljust(26) + first_line(path))
    return [line.rstrip() for line in lines]


def _place(path: Path, depth: int) -> tuple[int, str]:
    return (ORDER.index(path.stem) if not depth and path.stem in ORDER else len(ORDER), path.name)


def refresh(text: str) -> str:
    """The text of DEVELOPERS.md with the plan as the files are now."""
    drawn = "".join(f"{line}\n" for line in draw_folder(TOP / "shopsim", 0))
    return PLAN.sub(lambda _found: drawn, text)


if __name__ == "__main__":
    old = DEVELOPERS.read_text(encoding="utf-8")
    new = refresh(old)
    if "--update" in sys.argv[1:]:
        DEVELOPERS.write_text(new, encoding="utf-8")
    sys.exit(0 if new == old or "--update" in sys.argv[1:] else "DEVELOPERS.md does not draw the house as it is")
