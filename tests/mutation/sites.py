"""Where the engine can be changed, and what each change makes of its file: cosmic-ray's changes, and statements left out.

A *site* is one place and one kind of change there (another comparison, another number, ``not``). cosmic-ray has a dozen
changes for one plus sign and two for one number; drawing sites first, then a change of each, keeps the sample in
proportion to the code.
"""

from __future__ import annotations

import ast
import random
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from cosmic_ray.ast import ast_nodes, get_ast
from cosmic_ray.mutating import mutate_code
from cosmic_ray.operators.operator import Operator
from cosmic_ray.plugins import get_operator, operator_names
from parso.python.tree import Keyword, PythonNode

#: Lines of which no change makes a difference that anybody could see, and why.
EQUIVALENT = {
    "@dataclass(frozen=True)": "nobody writes to these records, as the type checker sees",
    "@lru_cache(maxsize=256)": "only remembers: a pure function gives the same again",
    "_FEW = 24": "which of two ways of adding up is quicker; both are compared by a test",
    "FIRST_DAYS = 128": "how much calendar is laid out at first; more is added when it is needed",
    "collecting = gc.isenabled()": "the collector only costs time here",
    "gc.disable()": "the collector only costs time here",
    "if collecting:": "the collector only costs time here",
    "gc.enable()": "the collector only costs time here",
    "ends = _ends": "events made once for all runs instead of anew: time alone",
    "if len(ends) < n_tasks:": "events made once for all runs instead of anew: time alone",
}


class LeaveOut(Operator):
    """Leaves out a statement that does something: a call, a change of a list or an attribute, a sum, a raise."""

    def mutation_positions(self, node):
        """One position for each such statement."""
        if getattr(node.parent, "type", "") == "simple_stmt" and _does_something(node):
            yield node.start_pos, node.end_pos

    def mutate(self, node, index):
        """``pass`` in its place."""
        return Keyword("pass", node.start_pos, node.get_first_leaf().prefix)

    @classmethod
    def examples(cls):
        """None: this is not a plug-in."""
        return ()


def _does_something(node: PythonNode) -> bool:
    if node.type in ("atom_expr", "del_stmt", "raise_stmt"):
        return True
    if node.type != "expr_stmt":
        return False
    target, sign = node.children[0], node.children[1]
    # without its first assignment a name is missing, which any run would notice
    return target.type == "atom_expr" or (getattr(sign, "value", "=") not in ("=", ":") and sign.type != "annassign")


@dataclass(frozen=True)
class Change:
    """One change of one file: the line it is in (from 1), that line before and after, and the whole file after."""

    path: Path
    line: int
    before: str
    after: str
    code: str


class Module:
    """A source file with the sites in it."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.code = path.read_text(encoding="utf-8")
        self.meaning = _meaning(self.code)

    @cached_property
    def sites(self) -> list[list[tuple[Operator, int, int]]]:
        """For each site its changes, as (operator, occurrence, line)."""
        nodes = list(ast_nodes(get_ast(self.code)))
        found: dict[tuple[str, tuple[int, int]], list[tuple[Operator, int, int]]] = {}
        for name, operator in _operators():
            positions = (place for node in nodes for place in operator.mutation_positions(node))
            for occurrence, (start, _end) in enumerate(positions):
                found.setdefault((name.split("_")[0], start), []).append((operator, occurrence, start[0]))
        lines = self.code.split("\n")
        return [changes for (_, (line, _)), changes in found.items() if lines[line - 1].strip() not in EQUIVALENT]

    def change(self, operator: Operator, occurrence: int, line: int) -> Change | None:
        """The change; None where it says the same as before (a type) or is no Python."""
        code = mutate_code(self.code, operator, occurrence)
        try:
            if code is None or _meaning(code) == self.meaning:
                return None
        except SyntaxError:
            return None
        old, new = self.code.split("\n"), code.split("\n")
        first = next(n for n, (a, b) in enumerate(zip(old, new, strict=False)) if a != b)
        return Change(self.path, first + 1, old[first].strip(), new[first].strip(), code)


def _operators() -> Iterator[tuple[str, Operator]]:
    for name in operator_names():
        made = get_operator(name)
        if not made.arguments():
            yield name, made()
    yield "LeaveOut", LeaveOut()


def _meaning(code: str) -> str:
    """The code without what only readers and type checkers see."""
    tree = ast.parse(code)
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            node.returns = None
        elif isinstance(node, ast.arg):
            node.annotation = None
        elif isinstance(node, ast.AnnAssign):
            node.annotation = ast.Name("any", ast.Load())
    return ast.dump(tree)


def draw_changes(modules: list[Module], number: int, seed: int) -> list[Change]:
    """So many changes, each at another site, every site of all modules equally likely."""
    chance = random.Random(seed)
    places = [(module, site) for module in modules for site in module.sites]
    chance.shuffle(places)
    drawn: list[Change] = []
    for module, site in places:
        if len(drawn) == number:
            break
        change = module.change(*chance.choice(site))
        if change is not None:
            drawn.append(change)
    return drawn
