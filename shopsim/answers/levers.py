"""What costs nothing: what comes first, room, batch size, and the day on which material is ordered, as alternatives."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Collection, Mapping, Sequence
from typing import Any

import pandas as pd

from shopsim.answers.alternatives import MATTERS_DAYS, NOW, compare, paired_mean, put_interval, read_interval
from shopsim.answers.growth import Improvement
from shopsim.answers.usual_sizes import usual_sizes
from shopsim.answers.wording import join_words, say_gain, say_hours_gain, say_last
from shopsim.columns import estimate_keys
from shopsim.scenario.batches import batch_changes, find_room, own_batches, pieces_of_lines, rules_to_compare
from shopsim.scenario.model import Scenario
from shopsim.study.intervals import Interval
from shopsim.study.results import Study

#: The sorts of what costs nothing, in the order in which they are told.
PRIORITY, ROOM, BATCH, MATERIAL = "priority rule", "room", "batch size", "material"
FREE = (PRIORITY, ROOM, BATCH, MATERIAL)
#: How each is called where it is said what was tried.
_SORTS = {
    PRIORITY: "what comes first", ROOM: "how many pieces are under way at once", BATCH: "the batch size",
    MATERIAL: "ordering material a week earlier",
}  # fmt: skip
#: How it begins where none of it helps.
TRIED_FIRST = "What costs nothing was tried first"
#: By how many days material is ordered earlier.
EARLIER_DAYS = 7
#: The measure by which it is judged: every buyer's day counts the same.
JUDGED = "average_ship_day"
#: Key of the further table.
COSTS_NOTHING = "what_costs_nothing"
_SAVED = {JUDGED: "average_saved_days", "last_ship_day": "last_saved_days", "hands_on_h_a_piece": "hands_on_saved_h"}
_COLUMNS = (
    "what", "thing", "kind", "tried", *(key for name in _SAVED.values() for key in estimate_keys(name)), "is_sure",
    "replications",
)  # fmt: skip


def list_levers(scenario: Scenario, leave_out: Collection[str] = ()) -> list[Improvement]:
    """Every other priority rule, half and double the room and room for all, the usual batch sizes with today's room, and each
    material that is bought ordered a week earlier; without the sorts of ``leave_out``."""
    levers = [
        *_other_rules(scenario), *_other_rooms(scenario), *_other_sizes(scenario), *_earlier_material(scenario),
    ]  # fmt: skip
    return [lever for lever in levers if lever.thing not in leave_out]


def _free(thing: str, kind: str, what: str, changes: Mapping[str, Any]) -> Improvement:
    return Improvement(thing, kind, 0, 0.0, changes, what=what)


def _other_rules(scenario: Scenario) -> list[Improvement]:
    today: str = scenario.run.priority
    return [
        _free(PRIORITY, rule, f'"{rule}" instead of "{today}" for what comes first', {"run.priority": rule})
        for rule in rules_to_compare(scenario)
        if rule != today
    ]


def _other_rooms(scenario: Scenario) -> list[Improvement]:
    room, made = find_room(scenario), sum(pieces_of_lines(scenario))
    before = "without a limit" if room is None else f"{room:,}"
    base = min(made, 2 * max(own_batches(scenario))) if room is None else room
    sizes = sorted({math.ceil(base / 2), base, min(2 * base, made), made} - {made if room is None else min(room, made)})
    return [
        _free(ROOM, f"{size:,}", f"{_say_room(size, made)} instead of {before}", {"run.pieces_open": size})
        for size in sizes
        if room is None or size != room
    ]


def _say_room(size: int, made: int) -> str:
    return f"room for {'all ' if size == made else ''}{size:,} {'piece' if size == 1 else 'pieces'} at once"


def _other_sizes(scenario: Scenario) -> list[Improvement]:
    own, made = own_batches(scenario), pieces_of_lines(scenario)
    before = join_words([f"{size:,}" for size in dict.fromkeys(own)])
    levers = []
    for size in usual_sizes(scenario):
        if tuple(min(size, n) for n in made) != own:
            what = f"batches of {size:,} instead of {before}"
            levers.append(_free(BATCH, f"{size:,}", what, batch_changes(scenario, size)))
    return levers


def _earlier_material(scenario: Scenario) -> list[Improvement]:
    levers = []
    closes = min(line.orders_close for line in scenario.lines if line.orders_close is not None)
    for number, material in enumerate(scenario.materials):
        if material.on_shelf or not material.lead.numbers or not any(material.lead.numbers):
            continue
        day = (material.ordered or closes) - dt.timedelta(days=EARLIER_DAYS)
        what = f"{material.name} ordered a week earlier, on {day:%Y-%m-%d}"
        levers.append(_free(MATERIAL, material.name, what, {f"materials[{number}].ordered": day}))
    return levers


def name_lever(lever: Improvement) -> str:
    """What a lever is, in few words to follow "with": ``"oldest batch" first``, ``room for 20``, ``boards a week earlier``."""
    kind = lever.kind
    return {
        PRIORITY: f'"{kind}" first', ROOM: f"room for {kind}", BATCH: f"batches of {kind}",
        MATERIAL: f"{kind} a week earlier",
    }[lever.thing]  # fmt: skip


def find_best_lever(study: Study, levers: Sequence[Improvement]) -> Improvement | None:
    """The lever with the soonest average order, of those that were run; None where none was."""
    run = [lever for lever in levers if lever.label in study.outcomes]
    return min(run, key=lambda lever: paired_mean(study, lever.label, JUDGED), default=None)


def is_surely_better(study: Study, lever: Improvement, tried: int) -> bool:
    """Whether the average order surely ships sooner with it, and by a difference that matters; ``tried``: so many were compared."""
    saved = compare(study, NOW, lever.label, JUDGED, tried)
    return round(saved.low, 1) > 0 and saved.value >= MATTERS_DAYS  # nothing is sure beside a range that begins at 0.0


def is_open(saved: Interval) -> bool:
    """Whether it cannot be told yet if something saves anything, though it may be as much as matters."""
    return saved.low <= 0 and saved.high >= MATTERS_DAYS and not saved.unseen


def is_rough(saved: Interval) -> bool:
    """Whether something seems to save as much as matters, though how much is not known to within what matters."""
    return saved.value >= MATTERS_DAYS and saved.half_width > MATTERS_DAYS


def list_best_levers(
    study: Study, levers: Sequence[Improvement], chosen: Improvement | None = None
) -> list[Improvement]:
    """The best of each sort that could be run, by the average order; ``chosen``, if it is given, stands for its sort."""
    best = [
        chosen if chosen is not None and chosen.thing == thing else
        find_best_lever(study, [lever for lever in levers if lever.thing == thing])
        for thing in FREE
    ]  # fmt: skip
    return [lever for lever in best if lever is not None]


def tabulate_levers(study: Study, levers: Sequence[Improvement], chosen: Improvement | None = None) -> pd.DataFrame:
    """A row for the best of each sort that was tried (``list_best_levers``): ``what``, ``thing``, ``kind``, ``tried`` (how many of
    its sort), paired ``average_saved_days``, ``last_saved_days`` and ``hands_on_saved_h`` (a piece; negative: more) with
    their intervals, all levers together at 95 %; ``is_sure``: surely better, and by a quarter of a day; ``replications``."""
    rows = []
    for lever in list_best_levers(study, levers, chosen):
        row: dict[str, Any] = {"what": lever.what, "thing": lever.thing, "kind": lever.kind}
        row["tried"] = sum(one.thing == lever.thing and one.label in study.outcomes for one in levers)
        for measure, saved in _SAVED.items():
            put_interval(row, saved, compare(study, NOW, lever.label, measure, len(levers)))
        row["is_sure"] = is_surely_better(study, lever, len(levers))
        row["replications"] = study.outcomes[lever.label].replications.size
        rows.append(row)
    return pd.DataFrame(rows, columns=list(_COLUMNS))


def say_lever(row: Mapping[Any, Any]) -> str:
    """What a lever does, in the middle of a sentence: ``with room for 20 pieces .., the average order ships 1.2 days .. sooner``."""
    average, last = read_interval(row, "average_saved_days"), read_interval(row, "last_saved_days")
    hours = read_interval(row, "hands_on_saved_h")
    more = f", for {say_hours_gain(hours)} more work a piece" if hours.high < 0 else ""
    return f"with {row['what']}, the average order ships {say_gain(average)} sooner{more}, {say_last(last)}"


def say_tried(levers: Sequence[Improvement]) -> str:
    """The sorts that were tried: ``what comes first, the batch size and ordering material a week earlier``."""
    return join_words([_SORTS[thing] for thing in FREE if any(lever.thing == thing for lever in levers)])


def say_free_too(
    table: pd.DataFrame, levers: Sequence[Improvement], lead: str = "What else costs nothing"
) -> list[str]:
    """What costs nothing and surely helps, the best first; or that nothing of it does; nothing where nothing was tried."""
    rows = table.to_dict("records")
    if not rows:
        return []
    sure = sorted((row for row in rows if row["is_sure"]), key=lambda row: -row["average_saved_days"])
    if not sure:
        return [say_none_helps(levers, lead)]
    said = [f"{lead}: {say_lever(sure[0])}."]
    return said + [f"By itself, {say_lever(row)}." for row in sure[1:]]


def say_none_helps(levers: Sequence[Improvement], lead: str = TRIED_FIRST) -> str:
    """That what costs nothing was tried, and none of it is surely better."""
    return f"{lead} ({say_tried(levers)}): none of it is surely better by a quarter of a day."
