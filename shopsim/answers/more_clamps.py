"""More clamps: what each kind would save, what a better priority rule saves for nothing, and what else would."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Unpack

from shopsim.answers.alternatives import MATTERS_DAYS
from shopsim.answers.answer import Answer
from shopsim.answers.break_even import PAYS_DAYS
from shopsim.answers.clamps_plan import MoreClamps
from shopsim.answers.growth import STEPS
from shopsim.answers.question import ask
from shopsim.scenario.model import Scenario
from shopsim.study.execution import Execution, RunOptions


def compare_clamps(
    scenario: Scenario,
    kinds: Sequence[str] | None = None,
    add: Sequence[int] | Mapping[str, Sequence[int]] | None = None,
    threshold: float = PAYS_DAYS,
    everything: bool = True,
    *,
    steps: Sequence[int] = STEPS,
    day_worth: float | None = None,
    until_sure: bool = False,
    matters_days: float = MATTERS_DAYS,
    **options: Unpack[RunOptions],
) -> Answer:
    """What more clamps of each kind would save, after what a better priority rule saves for nothing.

    ``kinds``: names of the kinds to try, default all; ``add``: how many to add, for all kinds
    or by name, default so many that as many glue-ups more fit as ``steps`` says. ``threshold``:
    days of the average ship day that each clamp must save to pay; or ``day_worth``: what a day saved is
    worth in the money of the file's prices. ``everything``: also one more of each station and
    rack, not only of hands. ``options``: see ``RunOptions``.

    ``replications``: of every alternative, default 200. With ``until_sure`` the priority rules, and then the numbers of
    clamps under the best of them, are run on until one is left that is the best once each clamp has to
    pay for itself, or within ``matters_days`` of it, with 95 % each; those that are surely worse are
    dropped on the way, and ``replications``, default 5,000, are the most. Everything else is run 50 times.

    Rows: ``thing`` "priority rule" (today's clamps under each other built-in order), "clamps" (kind by
    kind, then the kinds that one glue-up takes together, then "all kinds" together; again under a better
    priority rule where there is one), "worker", "station", "rack". ``owned``, ``added``, ``step``; means of
    ``average_ship_day`` and ``last_ship_day`` (days after orders close) and the paired ``..._saved_days`` with
    ``_low``, ``_high`` against today, for clamps under a better order against today's clamps under that order;
    ``best_so_far_days``: the best of this and all smaller steps; ``step_saved_days``: against the step
    before; ``gain_a_clamp_days``; ``cost``; ``cost_a_day`` where a saving is sure, of the saving as
    printed, to a tenth; ``days_to_pay``: what it has to save; ``beyond``: the number against which a step is judged, the
    last that pays (0: today's), with what it saves and has to save beyond that, ``gain_days`` and ``gain_to_pay_days``;
    ``pays``: surely as much; ``may_pay``: perhaps; ``..._unseen``: no run showed a difference (see ``paired_difference``);
    ``may_be_best``: cannot be told from the best number
    once each has to pay; ``is_worse``: later than the step before by more than 3 standard errors;
    ``replications``; ``remark``. Intervals of a kind of thing hold together at 95 % (Bonferroni). The raw savings
    are never altered to look smooth.

    Raises InputError for bad arguments, Cancelled if stopped before two replications of
    all alternatives were finished.
    """
    question = MoreClamps(
        scenario, kinds, add, threshold, everything, steps=steps, day_worth=day_worth, until_sure=until_sure,
        matters_days=matters_days,
    )  # fmt: skip
    return ask(question, Execution.of(options))
