"""The priority rules: which of the tasks that could start goes first. One entry of ``RULES`` is all that a rule takes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Waiting:
    """A task that waits to be started, as a rule sees it.

    ``batch`` counts from 1 in the order of opening; ``step`` is the operation's place
    in the file, from 0; ``piece`` from 1, or 0 for a task of a whole batch or run;
    ``unit`` from 1. ``early``: it goes into clamps or dries. ``likely_min``: likely
    hands-on minutes, set-up left out. ``tail_min``: likely minutes of the longest
    chain from its start to the end of its piece, curing included.

    Moments are minutes from midnight of the first day. ``opens_min``: when its batch may open at the
    earliest. ``due_min``: the end of the earliest day by which a buyer of its batch was told that it ships; inf where
    nobody was told a day. ``ready_min``: when it became ready. What serves several batches opens and is due with the
    first of them.
    """

    design: str
    operation: str
    batch: int
    step: int
    piece: int
    unit: int
    early: bool
    likely_min: float
    tail_min: float
    opens_min: float
    due_min: float
    ready_min: float


#: A rule gives a key that sorts first what shall be done first; it has to be pure.
Rule = Callable[[Waiting], Any]


@dataclass(frozen=True)
class PriorityRule:
    """A rule that is built in.

    ``says``: what goes first, in words. ``key``: its rule; it looks at no ``piece``, ``unit`` or ``ready_min``, which
    tasks of one batch and operation do not share. ``by_promise``: it looks at the days that buyers were told, and so
    is compared with other rules only where these differ.
    """

    says: str
    key: Rule
    by_promise: bool = False


#: By name; the first is the one that holds where a file names none.
RULES: dict[str, PriorityRule] = {
    "glue first": PriorityRule(
        "the oldest batch and, within it, what goes into clamps or dries before other work",
        lambda task: (task.batch, 0 if task.early else 1),
    ),
    "oldest batch": PriorityRule(
        "the oldest batch, in the order of the file",
        lambda task: task.batch,
    ),
    "longest tail": PriorityRule(
        "what has most likely time still to come on its piece, curing included",
        lambda task: -task.tail_min,
    ),
    "nearest done": PriorityRule(
        "what has least likely time still to come on its piece",
        lambda task: task.tail_min,
    ),
    # "Earliest due date": J. R. Jackson, Scheduling a production line to minimize maximum tardiness, 1955.
    "due first": PriorityRule(
        "the batch that is promised for the earliest day",
        lambda task: task.due_min,
        by_promise=True,
    ),
}

#: The names of the rules.
PRIORITY_RULES = tuple(RULES)
#: The name under which a plan of one's own, a list in the file, says what comes first; and all that a file may name.
AS_PLANNED = "as planned"
PRIORITY_NAMES = (*PRIORITY_RULES, AS_PLANNED)
#: What a plan may be searched for: the average ship day, the last ship day, hours with idle hands.
WISHES_OF_PLANS = ("average", "last", "idle")


def describe_rules() -> str:
    """Each rule by its name with what goes first under it, in one sentence for all."""
    return "; ".join(f'"{name}": {rule.says}' for name, rule in RULES.items())
