"""What to buy, in words."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence

import pandas as pd

from shopsim.answers.alternatives import CONFIDENCE, read_interval
from shopsim.answers.wording import join_words, say_confidence, say_count, say_gain, say_last
from shopsim.plurals import several
from shopsim.rows import table_rows
from shopsim.say import say_amount, say_chance, say_level, say_money
from shopsim.scenario.model import Scenario
from shopsim.study.intervals import Interval
from shopsim.study.material_needs import MaterialNeed
from shopsim.units import say_mm

#: Materials that a sentence lists at most.
MOST = 6


def say_buying(
    needs: Sequence[MaterialNeed],
    table: pd.DataFrame,
    ordering: pd.DataFrame,
    sure: float,
    all_chance: float,
    scenario: Scenario,
) -> str:
    """How much of what, by when, and what ordering at another time would do; every number stands in a table."""
    parts = []
    bought = [need for need in needs if need.to_buy > 0]
    if bought:
        said = [_say_amount(need) for need in bought[:MOST]]
        more = f" and {say_count(len(bought) - MOST, 'more row')} of the table" if len(bought) > MOST else ""
        parts.append(
            f"Buy {join_words(said)}{more}: that is enough with a chance of {say_level(sure)}, as far as waste is what the file says."
        )
        priced = [need.cost_cents for need in bought if need.cost_cents is not None]
        unpriced = len(bought) - len(priced)
        if priced:
            all_of = "All of it" if not unpriced else "What has a price"
            parts.append(f"{all_of} costs {say_money(sum(priced), scenario.money.currency)}.")
    elif needs:
        parts.append("Everything that the boards and goods of the file ask for is in stock.")
    rows = [row for row in table_rows(table) if row["order_by"]]
    by_name = {row["material"]: row for row in rows}
    if by_name:
        days = [f"{name} by {row['order_by']}" for name, row in by_name.items()]
        shown = days[:MOST]
        more = f" and {say_count(len(days) - MOST, 'more')} as in the table" if len(days) > MOST else ""
        each = "Each then holds" if len(by_name) > 1 else "It then holds"
        together = f", all together in {say_chance(all_chance)}" if len(by_name) > 1 else ""
        parts.append(
            f"Order {join_words(shown)}{more}. {each} nothing back in at least {say_level(sure)} of runs{together}."
        )
        parts += _say_late(list(by_name.values()), sure)
    parts += _say_week(ordering)
    return " ".join(parts)


def _say_amount(need: MaterialNeed) -> str:
    rough = "" if need.rough_mm is None else f", {say_mm(need.rough_mm)} thick"
    unit = need.unit if need.to_buy == 1 or need.rough_mm is not None else several(need.unit)
    what = need.material.name if unit == need.material.name else f"{unit} of {need.material.name}"
    amount = f"{say_amount(float(need.to_buy), need.unit)} {what}{rough}"
    if need.plan is None:
        return amount
    return f"{amount} in {say_count(need.plan.n_boards, 'board')}"


def _say_late(rows: Sequence[dict[str, object]], sure: float) -> list[str]:
    """Materials that the file has ordered later than the day to order by."""
    late = [
        row for row in rows if dt.date.fromisoformat(str(row["ordered"])) > dt.date.fromisoformat(str(row["order_by"]))
    ]
    if not late:
        return ["As the file has them ordered, none is later than that."]
    said = [
        f"{row['material']} (on {row['ordered']}) in only {say_chance(float(str(row['ordered_chance'])))} of runs"
        for row in late
    ]
    return [f"Ordered on the day that the file says, nothing is held back by {join_words(said, 'or by')}."]


def _say_week(ordering: pd.DataFrame) -> list[str]:
    """The material whose ordering a week earlier surely saves most, and the one for which a week later costs most."""
    parts = []
    rows = [row for row in table_rows(ordering) if row["what"] in ("a week earlier", "a week later")]
    for what, sign in (("a week earlier", 1), ("a week later", -1)):
        changes = [
            (row, read_interval(row, "average_saved_days"), read_interval(row, "last_saved_days"))
            for row in rows
            if row["what"] == what
        ]
        told = [one for one in changes if sign * one[1].value > 0 and (one[1].low if sign > 0 else -one[1].high) > 0]
        if not changes:
            continue
        if not told:
            verb = "sooner" if sign > 0 else "later"
            parts.append(f"Nothing ordered {what} surely ships the average order {verb}.")
            continue
        row, average, last = max(told, key=lambda one: sign * one[1].value)
        word = "sooner" if sign > 0 else "later"
        parts.append(
            f"{_capital(str(row['material']))} ordered {what}, on {row['ordered']}, would ship the average order "
            f"{say_gain(average)} {word}, {_say_last(last, sign)}."
        )
    return parts


def _say_last(last: Interval, sign: int) -> str:
    """What it does to the last order, as ``say_last`` has it; nothing turns where both ship later."""
    return say_last(last).replace("but the last", "and the last", 1) if sign < 0 else say_last(last)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def list_buying_notes(needs: Sequence[MaterialNeed], sure: float, replications: int) -> tuple[str, ...]:
    """What should be read beside the list."""
    notes = [
        "To buy is net over what is left of it: net / (1 - waste). Wood counts by its rough thickness, its finished width and length, "
        "as it is sold.",
        "Low and high are amounts that one run in ten stays under, and that one in ten passes; wood of one wagon is taken to be better "
        "or worse all together.",
        f"Days to order by rest on {say_count(replications, 'run')} in which all else was there; ranges of days saved hold together with "
        f"{say_confidence(CONFIDENCE)} confidence, on the same luck.",
    ]
    if any(need.plan is not None for need in needs):
        open_ = [need.material.name for need in needs if need.plan is not None and not need.plan.proven]
        notes.append(
            "Boards are cut along their length alone, parts of one kind beside each other where the board is wide enough; each cut takes "
            "the saw's width, and so many more parts are cut as the waste says are lost."
            + ("" if open_ else " No plan needs less length: that is proven.")
        )
        if open_:
            notes.append(f"Whether less length of {join_words(open_)} would do is not proven.")
    unpriced = [need.material.name for need in needs if need.material.price is None]
    if unpriced:
        notes.append(f"Without a price in the file: {join_words(unpriced)}.")
    bare = [part.board.part for need in needs for part in need.parts if not part.board.spare and part.count > 8]
    if bare:
        notes.append(
            f"Cut without a spare: {join_words(list(dict.fromkeys(bare)))}. Makers cut one more for every 8 to 12 of a kind (common "
            "practice, no source), as making one late takes a whole set-up."
        )
    if any(math.isclose(need.sure, need.likely) and need.rough_mm is not None for need in needs):
        notes.append("Where waste is one number, every amount is one number too.")
    return tuple(notes)
