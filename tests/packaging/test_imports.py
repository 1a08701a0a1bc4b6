"""It holds that imports point down only, and that each large library has one home."""

from __future__ import annotations

import ast
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

TOP = Path(__file__).resolve().parents[2]
PACKAGE = TOP / "shopsim"

#: The storeys of the house, lowest first; modules of one storey do not import each other unless it says so.
STOREYS = (
    ("version", "limits", "errors", "units", "dates", "laws", "plurals", "volumes", "columns", "priority", "questions"),
    ("scenario",),
    ("engine",),
    ("say", "rows"),
    ("study",),
    ("answers",),
    ("charts", "export"),
    ("screen_tables",),
    ("report", "screens", "wall_sheet", "calendar_file", "buying_list"),
    ("app",),
    ("cli",),
)
STOREY_OF = {name: number for number, names in enumerate(STOREYS) for name in names}
NEIGHBOURS = frozenset(STOREYS[0])

#: Libraries that may be imported only here (a file, or a folder with everything in it).
HOMES = {
    "simpy": ("engine/floor/",),
    "plotly": ("charts/",),
    "icalendar": ("calendar_file.py",),
    "streamlit": ("app/",),
    "rich": ("cli/",),
    "distributed": ("study/cluster.py",),
}


def modules() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def imports_of(path: Path, source: str | None = None) -> Iterator[tuple[int, str]]:
    """Every imported name with its line, relative imports written out, ``from a import b`` as ``a.b``."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8") if source is None else source)):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield node.lineno, alias.name
        elif isinstance(node, ast.ImportFrom):
            home = ["shopsim", *path.relative_to(PACKAGE).with_suffix("").parts]
            base = home[: len(home) - node.level] if node.level else []
            for alias in node.names:
                yield node.lineno, ".".join([*base, *([node.module] if node.module else []), alias.name])


def storey_name(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def breaches(path: Path, source: str | None = None) -> list[str]:
    here = storey_name(path)
    found = []
    for line, name in imports_of(path, source):
        parts = name.split(".")
        if parts[0] != "shopsim" or here == "__init__":
            continue
        there = parts[1] if len(parts) > 1 else ""
        where = f"{path.relative_to(TOP)}:{line}"
        if there not in STOREY_OF:
            found.append(f"{where} imports {name}, which is not a part of the house")
        elif there != here and not (here in NEIGHBOURS and there in NEIGHBOURS) and STOREY_OF[there] >= STOREY_OF[here]:
            found.append(f"{where}: {here} imports {there}")
    return found


def test_every_module_has_its_storey() -> None:
    strange = [str(path.relative_to(TOP)) for path in modules() if storey_name(path) not in {*STOREY_OF, "__init__"}]
    assert strange == []


def test_no_two_modules_share_a_name() -> None:
    tests = [path for path in (TOP / "tests").rglob("*.py") if path.name != "conftest.py"]
    names = Counter(path.name for path in [*modules(), *tests] if path.name not in ("__init__.py", "__main__.py"))
    assert [name for name, n_files in names.items() if n_files > 1] == []


def test_imports_point_down_only() -> None:
    assert [breach for path in modules() for breach in breaches(path)] == []


def test_charts_and_export_take_tables_only() -> None:
    for path in modules():
        if storey_name(path) in ("charts", "export"):
            used = {name.split(".")[1] for _, name in imports_of(path) if name.startswith("shopsim.")}
            known = {
                "limits",
                "errors",
                "units",
                "dates",
                "plurals",
                "columns",
                "questions",
                "scenario",
                "say",
                "rows",
                storey_name(path),
            }
            assert used <= known, path.name


@pytest.mark.parametrize("library", sorted(HOMES))
def test_each_large_library_has_one_home(library: str) -> None:
    strangers = [
        f"{path.relative_to(TOP)}:{line}"
        for path in modules()
        for line, name in imports_of(path)
        if name.split(".")[0] == library
        and not any(path.relative_to(PACKAGE).as_posix().startswith(home) for home in HOMES[library])
    ]
    assert strangers == []


def test_pandas_is_used_from_say_up() -> None:
    below = [
        str(path.relative_to(TOP))
        for path in modules()
        if STOREY_OF.get(storey_name(path), 9) < STOREY_OF["say"]
        and any(name.split(".")[0] == "pandas" for _, name in imports_of(path))
    ]
    assert below == []


def test_a_breach_is_found_however_it_is_written() -> None:
    path = PACKAGE / "scenario" / "imagined.py"
    source = (
        "from ..engine import floor\nimport shopsim.study.once\nfrom shopsim import units, app\nfrom . import model\n"
    )
    assert breaches(path, source) == [
        "shopsim/scenario/imagined.py:1: scenario imports engine",
        "shopsim/scenario/imagined.py:2: scenario imports study",
        "shopsim/scenario/imagined.py:3: scenario imports app",
    ]


def test_the_storeys_are_those_that_developers_md_draws() -> None:
    text = (TOP / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert (
        "version, limits, errors, units, dates, volumes, laws, columns, questions, priority <- scenario <- engine <- say, rows <- study <- answers "
        "<- charts, export <- report <- app <- cli" in text
    )
