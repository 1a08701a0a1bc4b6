"""More clamps: what can be had for nothing, what each kind would save, and what else would."""

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
    matters_days: float = MATTERS_DAYS,
    **options: Unpack[RunOptions],
) -> Answer:
    """What more clamps of each kind would save, after what can be had for nothing.

    ``kinds``: names of the kinds to try, default all; ``add``: how many to add, for all kinds
    or by name, default so many that as many glue-ups more fit as ``steps`` says. ``threshold``:
    days of the average ship day that each clamp must save to pay; or ``day_worth``: what a day saved is
    worth in the money of the file's prices. ``everything``: also one more of each station and
    rack, not only of hands. ``options``: see ``RunOptions``.

    First comes what costs nothing (see ``list_levers``), of which the one is chosen that is the best, or within
    ``matters_days`` of it, with 95 % (``choose_best``). Where it is surely better than today, clamps are tried under it as
    well. Every number of clamps of which it cannot be told whether it pays is run on, ``replications``, default 2,000, at most.

    Rows: ``thing`` "clamps" (kind by kind, then the kinds that one glue-up takes together, then "all kinds" together; again
    under what costs nothing, ``under``, where that helps), "worker", "station", "rack". ``owned``, ``added``, ``step``; means of
    ``average_ship_day`` and ``last_ship_day`` (days after orders close) and the paired ``..._saved_days`` with
    ``_low``, ``_high`` against today, for clamps ``under`` something against today's clamps under it;
    ``best_so_far_days``: the best of this and all smaller steps; ``step_saved_days``: against the step
    before; ``gain_a_clamp_days``; ``cost``; ``cost_a_day`` where a saving is sure, of the saving as
    printed, to a tenth; ``days_to_pay``: what it has to save; ``beyond``: the number against which a step is judged, the
    last that pays (0: today's), with what it saves and has to save beyond that, ``gain_days`` and ``gain_to_pay_days``;
    ``pays``: surely as much; ``may_pay``: perhaps; ``..._unseen``: no run showed a difference (see ``paired_difference``);
    ``may_be_best``: cannot be told from the best number
    once each has to pay; ``is_worse``: later than the step before by more than 3 standard errors;
    ``replications``; ``remark``. The further table ``COSTS_NOTHING`` has a row for each sort of what costs nothing. Intervals of a kind of thing hold together at 95 % (Bonferroni). The raw savings
    are never altered to look smooth.

    Raises InputError for bad arguments, Cancelled if stopped before two replications of
    all alternatives were finished.
    """
    question = MoreClamps(
        scenario, kinds, add, threshold, everything, steps=steps, day_worth=day_worth,
        matters_days=matters_days,
    )  # fmt: skip
    return ask(question, Execution.of(options))
