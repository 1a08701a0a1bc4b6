"""What to buy, how much of it, and by which day to order it so that it holds nothing back."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Mapping
from typing import Any, Unpack

import pandas as pd

from shopsim.answers.alternatives import CONFIDENCE, NOW, compare, put_interval, run_alternatives, try_change
from shopsim.answers.answer import Answer, build_answer
from shopsim.answers.buying_words import list_buying_notes, say_buying
from shopsim.answers.question import Question, ask
from shopsim.columns import UNSEEN, estimate_keys
from shopsim.errors import InputError
from shopsim.say import say_level
from shopsim.scenario.model import Material, Scenario
from shopsim.study.execution import Execution, Meter, RunOptions
from shopsim.study.first_need import FirstNeeds, find_first_needs
from shopsim.study.material_needs import MaterialNeed, list_needs
from shopsim.study.results import Study
from shopsim.units import say_mm
from shopsim.volumes import board_feet, cubic_metres

#: Key of the answer, and of its further tables.
BUYING = "what_to_buy"
ORDERING, PARTS, CUTTING = "ordering_earlier_or_later", "parts_to_cut", "cutting_list"
#: Replications where nothing is said, and the chance in percent.
USUAL, USUAL_SURE = 400, 90.0
#: Fewest replications that can tell a chance: more than one run must lie beyond it.
WEEK = 7
_SAVED = {"average_ship_day": "average_saved_days", "last_ship_day": "last_saved_days"}


class Buying(Question[Answer]):
    """What to buy and when to order it; see ``find_buying``. InputError where ``sure`` is no chance, or nothing is bought."""

    def __init__(self, scenario: Scenario, sure: float = USUAL_SURE) -> None:
        if isinstance(sure, bool) or not isinstance(sure, int | float) or not 1 <= sure < 100:
            raise InputError(f"sure = {sure!r} is not a chance in percent · write a number from 1 to 99.9, like 90")
        if not scenario.materials:
            raise InputError("the file says of nothing that it is bought · add [[materials]], one for each")
        self.scenario, self.sure = scenario, sure / 100
        self.needs = list_needs(scenario, self.sure)
        closes = [line.orders_close for line in scenario.lines if line.orders_close is not None]
        self.closes = min(closes) if closes else scenario.day0

    @property
    def alternatives(self) -> dict[str, Scenario]:
        """The scenario as it stands; the days to order by are known only when it has been run."""
        return {NOW: self.scenario}

    @property
    def usual(self) -> int:
        """Replications of each day of ordering."""
        return USUAL

    @property
    def fewest(self) -> int:
        """Replications of which one may be late with the chance that was asked."""
        return max(2, math.ceil(round(1 / (1 - self.sure), 6)) - 1)

    def check(self, replications: int) -> None:
        """InputError where so few cannot tell the chance."""
        if replications < self.fewest:
            raise InputError(
                f"replications = {replications} cannot tell a chance of {say_level(self.sure)} · take at least {self.fewest}"
            )

    def ordered(self, material: Material) -> dt.date:
        """The day on which the file has it ordered."""
        return material.ordered or self.closes

    def answers(self, execution: Execution, last: bool) -> Iterator[Answer]:
        """One answer."""
        first = find_first_needs(self.scenario, execution)
        days = {
            number: first.order_by(number, self.sure)
            for number, material in enumerate(self.scenario.materials)
            if not material.on_shelf
        }
        tried = self._days_to_try(days)
        built: dict[str, Scenario] = {NOW: self.scenario}
        for (number, what), day in tried.items():
            changed, _ = try_change(self.scenario, {f"materials[{number}].ordered": day})
            if changed is not None:
                built[f"{what}: {self.scenario.materials[number].name}"] = changed
        meter = Meter(execution.on_progress, (execution.replications or USUAL) * len(built))
        study = run_alternatives(built, meter.stage(execution))
        meter.finish()
        yield self.answer(study, first, days, tried)

    def _days_to_try(self, days: Mapping[int, dt.date | None]) -> dict[tuple[int, str], dt.date]:
        """For each material that is ordered: the day to order by, and a week before and after what the file says."""
        tried: dict[tuple[int, str], dt.date] = {}
        for number, material in enumerate(self.scenario.materials):
            day = days.get(number)
            if day is None:
                continue
            today = self.ordered(material)
            tried[number, "by the day to order by"] = day
            tried[number, "a week earlier"] = today - dt.timedelta(days=WEEK)
            tried[number, "a week later"] = today + dt.timedelta(days=WEEK)
        return tried

    def answer(
        self,
        study: Study,
        first: FirstNeeds,
        days: Mapping[int, dt.date | None],
        tried: Mapping[tuple[int, str], dt.date],
    ) -> Answer:
        """Table, further tables and sentence."""
        numbers = {material.name: n for n, material in enumerate(self.scenario.materials)}
        rows = [self._row(need, numbers[need.material.name], first, days) for need in self.needs]
        named = {need.material.name for need in self.needs}
        rows += [
            self._bare_row(number, first, days)
            for name, number in numbers.items()
            if name not in named and not self.scenario.materials[number].on_shelf
        ]
        table = pd.DataFrame(rows, columns=list(_COLUMNS)).astype(_KINDS)
        in_time = [first.in_time(number, day) for number, day in days.items() if day is not None]
        all_chance = float(pd.DataFrame(in_time).all(axis=0).mean()) if in_time else math.nan
        ordering = self._ordering(study, tried)
        tables = {ORDERING: ordering}
        if any(need.parts for need in self.needs):
            tables[PARTS] = self._parts()
        if any(need.plan is not None for need in self.needs):
            tables[CUTTING] = self._cutting()
        sentence = say_buying(self.needs, table, ordering, self.sure, all_chance, self.scenario)
        return build_answer(
            study, NOW, BUYING, table, sentence, list_buying_notes(self.needs, self.sure, study.replications), tables
        )

    def _row(
        self, need: MaterialNeed, number: int, first: FirstNeeds, days: Mapping[int, dt.date | None]
    ) -> dict[str, Any]:
        row = self._bare_row(number, first, days)
        row |= {
            "rough": "" if need.rough_mm is None else say_mm(need.rough_mm),
            "unit": need.unit,
            "net": need.net,
            "spare_amount": need.spare,
            "buy_low": need.low,
            "buy_likely": need.likely,
            "buy_high": need.high,
            "buy_sure": need.sure,
            "in_stock": need.material.in_stock,
            "to_buy": float(need.to_buy),
            "price": math.nan if need.material.price is None else float(need.material.price),
            "cost": math.nan if need.cost_cents is None else need.cost_cents / 100,
        }
        if need.plan is not None:
            row["boards"] = need.plan.n_boards
            row["is_proven"] = "yes" if need.plan.proven else "no"
        return row

    def _bare_row(self, number: int, first: FirstNeeds, days: Mapping[int, dt.date | None]) -> dict[str, Any]:
        """When a material is to be ordered; how much of it is not said."""
        material = self.scenario.materials[number]
        row: dict[str, Any] = dict.fromkeys(_COLUMNS, math.nan)
        row |= dict.fromkeys(("rough", "unit", "ordered", "order_by", "is_proven"), "")
        row |= {"material": material.name}
        day = days.get(number)
        if day is not None:
            row["ordered"], row["order_by"] = self.ordered(material).isoformat(), day.isoformat()
            row["in_time_chance"] = float(first.in_time(number, day).mean())
            row["ordered_chance"] = float(first.in_time(number, self.ordered(material)).mean())
        return row

    def _ordering(self, study: Study, tried: Mapping[tuple[int, str], dt.date]) -> pd.DataFrame:
        rows = []
        for (number, what), day in tried.items():
            name = self.scenario.materials[number].name
            label = f"{what}: {name}"
            if label not in study.outcomes:
                continue
            row: dict[str, Any] = {"material": name, "what": what, "ordered": day.isoformat()}
            for measure, saved in _SAVED.items():
                put_interval(row, saved, compare(study, NOW, label, measure, len(tried)))
            rows.append(row)
        columns = ["material", "what", "ordered", *(key for name in _SAVED.values() for key in estimate_keys(name))]
        kinds = dict.fromkeys(columns, "float64") | dict.fromkeys(("material", "what", "ordered"), "str")
        kinds |= {f"{name}{UNSEEN}": "bool" for name in _SAVED.values()}
        return pd.DataFrame(rows, columns=columns).astype(kinds)

    def _parts(self) -> pd.DataFrame:
        rows = []
        for need in self.needs:
            for part in need.parts:
                board = part.board
                finished = board.thickness * board.width * board.length * part.count
                rough = (board.rough or board.thickness) * board.width * board.length * part.count
                rows.append(
                    {
                        "material": need.material.name,
                        "design": part.design,
                        "part": board.part,
                        "count": part.count,
                        "size": f"{say_mm(board.thickness)} x {say_mm(board.width)} x {say_mm(board.length)}",
                        "rough": say_mm(board.rough or board.thickness),
                        "net_board_feet": board_feet(rough),
                        "net_m3": cubic_metres(rough),
                        "finished_m3": cubic_metres(finished),
                        "waste_likely_share": part.waste.likely,
                    }
                )
        return pd.DataFrame(rows)

    def _cutting(self) -> pd.DataFrame:
        rows = []
        for need in self.needs:
            if need.plan is None:
                continue
            names = [f"{cut.name} {say_mm(cut.length_mm)}" for cut in need.plan.cuts]
            for board in need.plan.boards:
                cuts = [f"{n} x {name}" for n, name in zip(board.counts, names, strict=True) if n]
                rows.append(
                    {
                        "material": need.material.name,
                        "rough": say_mm(need.rough_mm or 0.0),
                        "boards": board.boards,
                        "length": say_mm(board.length_mm),
                        "cuts": ", ".join(cuts) or "whole, kept in reserve",
                        "left": say_mm(round(board.left_mm, 1)),
                    }
                )
        return pd.DataFrame(rows)


_COLUMNS = (
    "material", "rough", "unit", "net", "spare_amount", "buy_low", "buy_likely", "buy_high", "buy_sure", "in_stock", "to_buy",
    "boards", "is_proven", "price", "cost", "order_by", "in_time_chance", "ordered", "ordered_chance",
)  # fmt: skip
_KINDS = dict.fromkeys(_COLUMNS, "float64") | dict.fromkeys(
    ("material", "rough", "unit", "is_proven", "order_by", "ordered"), "str"
)


def find_buying(scenario: Scenario, *, sure: float = USUAL_SURE, **options: Unpack[RunOptions]) -> Answer:
    """What to buy for the run, how much is enough with a chance of ``sure`` percent, and the last day on which to order each.

    ``options``: see ``RunOptions``; 400 replications are usual.

    Rows, in the order of the materials, thick boards first: ``material``, ``rough`` thickness and ``unit``; in that unit ``net``,
    ``spare_amount``, ``buy_low``, ``buy_likely``, ``buy_high`` (points of 10, 50 and 90 % of the waste; buy = net / (1 - waste)),
    ``buy_sure`` (enough with the chance), ``in_stock``, ``to_buy`` (rounded up, whole packs and boards); ``boards`` and whether their
    number ``is_proven``; ``price`` of a unit and ``cost``, exact to the cent; ``order_by``, on which it holds nothing back with
    ``in_time_chance``; ``ordered`` and ``ordered_chance``, the day of the file and its chance.

    Further tables: ``ORDERING`` (paired days saved by ordering each by that day, and a week earlier and later than in the file),
    ``PARTS`` (sizes, board feet, cubic metres) and, where lengths are sold, ``CUTTING``.

    Raises InputError for bad arguments, Cancelled if stopped before two replications were finished.
    """
    return ask(Buying(scenario, sure), Execution.of(options))


__all__ = ["BUYING", "CONFIDENCE", "CUTTING", "ORDERING", "PARTS", "Buying", "find_buying"]
