"""What delivery says stands in its table: every date and every chance, on random shops; and who is first and last."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from shopsim.answers import forecast_delivery, write_words
from shopsim.answers.promise_sheet import SHEET
from shopsim.charts.delivery_chart import build_delivery
from shopsim.say import say_chance
from shopsim.scenario import Scenario, parse_scenario
from shopsim.screens import further_tables, screen_table

from .sentences import find_strange, find_unsaid, stated

DAYS = ("mon", "tue", "wed", "thu", "fri", "sat")


@pytest.fixture
def draw_shop(write_shop: Callable[..., str], tmp_path: Path) -> Callable[[int], Scenario]:
    """A shop of its own for each number: hours, times, options, dates that were told, batches, release, transit."""

    def draw(number: int) -> Scenario:
        rng = np.random.default_rng(number)
        week = ", ".join(f'{day} = "08:00-{rng.integers(11, 18)}:00"' for day in rng.choice(DAYS, 3, replace=False))
        low, more, most = rng.integers(20, 90, 3)
        work = f"{low} / {low + more} / {low + more + most} min"
        rows = ["id,date,quantity,option,promised"]
        for n in range(rng.integers(3, 9)):
            told = f"2027-02-{rng.integers(1, 28):02}" if rng.random() < 0.4 else ""
            option = rng.choice(["", "walnut"])
            rows.append(f"B{n},2027-01-{n + 1:02},{rng.integers(1, 4)},{option},{told}")
        (tmp_path / f"orders{number}.csv").write_text("\n".join(rows) + "\n")
        release = rng.choice(["when orders close", "as ordered"])
        run = f'orders = "orders{number}.csv"\nbatch = {rng.integers(1, 5)}\nrelease = "{release}"'
        if rng.random() < 0.5:
            run += '\ndemand = "8 / 10 / 14"'
        option = f'\n[[design.options]]\nname = "walnut"\nchange = [{{ operation = "make", cure = "{rng.integers(1, 9)} d" }}]\n'
        transit = '[shipping]\ntransit = "1 / 2 / 4 d"\n' if rng.random() < 0.4 else ""
        text = write_shop(f'{{ name = "make", work = "{work}" }}', run=run, more=transit, open=f"{{ {week} }}")
        return parse_scenario(text.replace("[run]", f"{option}\n[run]"), folder=tmp_path)

    return draw


#: A window in words: "from one day to another", or "on" the only one.
WINDOW = r"(?:from (\S+) to (\S+)|on (\S+))"


@pytest.mark.parametrize("number", range(14))
def test_every_number_of_sentence_and_notes_stands_in_a_table(
    draw_shop: Callable[[int], Scenario], number: int
) -> None:
    scenario = draw_shop(number)
    orders = len(scenario.lines[0].orders.orders)  # type: ignore[union-attr]
    keep = dt.date(2027, 1, 30)
    asked: list[dict[str, Any]] = [{"orders": orders}, {"orders": [2, 9]}, {"ship_by": keep, "orders": range(1, 8)}]
    if scenario.run.demand is not None:
        asked.append({})
    for question in asked:
        answer = forecast_delivery(scenario, replications=59, seed=number, service_level=0.85, **question)
        known = {*stated(scenario, answer), str(keep), *(str(count) for count in range(1, 10))}
        assert find_unsaid(answer, known) == []
        assert find_strange(answer) == []
        assert "over 99" not in answer.sentence


@pytest.mark.parametrize("number", range(14))
def test_table_sheet_chart_and_letters_say_the_dates_and_chances_of_the_headline(
    draw_shop: Callable[[int], Scenario], number: int
) -> None:
    scenario = draw_shop(number)
    answer = forecast_delivery(scenario, len(scenario.lines[0].orders.orders), replications=59, seed=number)  # type: ignore[union-attr]
    rows = answer.rows.to_dict("records")
    first = re.search(rf"the first(?: to ship \(order (\w+)\))? ships {WINDOW} and", answer.sentence)
    last = re.search(rf"the last(?: to ship \(order (\w+)\))? {WINDOW},", answer.sentence)
    assert first is not None
    assert last is not None
    by_id = {row["order"]: row for row in rows}
    opens = by_id[first[1]] if first[1] else rows[0]
    closes = by_id[last[1]] if last[1] else rows[-1]
    assert (first[2] or first[4], first[3] or first[4]) == (opens["ship_from"], opens["ship_to"])
    assert (last[2] or last[4], last[3] or last[4]) == (closes["ship_from"], closes["ship_to"])
    assert opens["ship_from"] == min(row["ship_from"] for row in rows)
    assert closes["ship_to"] == max(row["ship_to"] for row in rows)
    screen, sheet = screen_table(answer).to_dict("records"), answer.tables[SHEET].to_dict("records")
    hovers = [text for trace in build_delivery(answer.rows).data for text in trace.hovertext or ()]
    words = write_words(scenario, answer)
    letters = {row.order: row.text for row in words.itertuples() if row.kind != "listing"}
    kinds = {row.order: row.kind for row in words.itertuples() if row.kind != "listing"}
    for n, row in enumerate(rows):
        chance = say_chance(row["chance_kept"])
        assert screen[n]["promise"] == row["promise"] == f"{sheet[n]['promise']:%Y-%m-%d}"
        assert screen[n]["kept"] == chance == say_chance(sheet[n]["chance_kept"])
        assert any(
            f"order {row['order']}: promise by" in text and f"kept in {chance} of runs" in text for text in hovers
        )
        letter = letters[row["order"]]
        day = f"{dt.date.fromisoformat(row['promise']):%-d %B %Y}"
        told = row.get("told") and f"{dt.date.fromisoformat(row['told']):%-d %B %Y}"
        if row.get("late"):
            assert kinds[row["order"]] == "late note"
            assert f"would ship by {told}. It will not be ready by then. My new shipping date is {day}" in letter
            assert f"at {chance}. The reason" in letter
            assert row["promise"] > row["told"]
        elif told:
            assert f"will ship by {told}, and that date stands." in letter
            assert letter.count("2027") == 2  # the day of the order, and the day that was told
        else:
            assert f"by {day}" in letter
    assert len(letters) == len(rows) == len(words) - 1


def test_what_promising_each_or_all_comes_to_is_a_table_of_the_screen(draw_shop: Callable[[int], Scenario]) -> None:
    scenario = draw_shop(1)
    answer = forecast_delivery(scenario, len(scenario.lines[0].orders.orders), replications=59)  # type: ignore[union-attr]
    shown = further_tables(answer)["All orders together"]
    assert shown["each is promised"].tolist() == ["its own date", "the date to keep all"]
    for cell in (*shown["all kept"], *shown["the latest is"]):
        assert cell in answer.sentence or answer.rows["all_kept_day"].equals(answer.rows["promise_day"])


def test_screen_cells_are_text(draw_shop: Callable[[int], Scenario]) -> None:
    scenario = draw_shop(2)
    answer = forecast_delivery(scenario, [3, 8], replications=59)
    assert isinstance(screen_table(answer), pd.DataFrame)
    assert screen_table(answer)["kept"].tolist() == [say_chance(chance) for chance in answer.rows["chance_kept"]]
