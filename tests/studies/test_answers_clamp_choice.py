"""Which clamps to buy: steps, kinds that wait for one another, what a day is worth, and searching until it is sure."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from shopsim import load_scenario
from shopsim.answers import alternatives, clamps_plan, compare_batch_sizes, compare_clamps
from shopsim.answers.batch_size import BatchSizes
from shopsim.answers.break_even import BreakEven
from shopsim.answers.growth import count_steps
from shopsim.errors import Cancelled, InputError
from shopsim.scenario import PRIORITY_RULES, Scenario, parse_scenario
from shopsim.study import run_study

CALM = 'interrupted = "0 %"\nlost_days = "0 %"\n'
DAILY = '{ mon-sun = "08:00-16:00" }'
OVERNIGHT = '{ name = "glue", work = "5 min", clamps = [{ count = 1, reach = "20 in" }], in_clamps = "20 h" }'


def clamps(count: int, price: float | None = 30.0, name: str = "bar clamp") -> str:
    money = "" if price is None else f"price = {price}\n"
    return f'[[shop.clamps]]\nname = "{name}"\nreach = "24 in"\ncount = {count}\n{money}'


@pytest.fixture
def build(write_shop: Callable[..., str]) -> Callable[..., Scenario]:
    def make(operations: str, shop: str, run: str = "orders = 6\npieces_open = 9", open: str = DAILY) -> Scenario:
        return parse_scenario(write_shop(operations, shop=CALM + shop, run=run, open=open))

    return make


@pytest.mark.parametrize(
    ("owned", "step", "added"), [(8, 4, [4, 8, 12]), (11, 4, [1, 5, 9]), (10, 4, [2, 6, 10]), (0, 3, [3, 6, 9])]
)
def test_each_step_lets_one_glue_up_more_fit(owned: int, step: int, added: list[int]) -> None:
    assert count_steps(owned, step) == added


def test_of_eleven_clamps_in_fours_the_ninth_to_eleventh_do_nothing(build: Callable[..., Scenario]) -> None:
    fours = OVERNIGHT.replace("count = 1", "count = 4")
    answer = compare_clamps(build(fours, clamps(8)), add=(1, 2, 3, 4), replications=2)
    rows = answer.rows[answer.rows["thing"] == "clamps"].set_index("added")
    # two glue-ups a day: days 1 1 2 2 3 3; three a day: 1 1 1 2 2 2
    assert rows["average_saved_days"].to_dict() == {1: 0, 2: 0, 3: 0, 4: 0.5}
    assert rows["pays"].to_dict() == {1: False, 2: False, 3: False, 4: True}
    assert compare_clamps(build(fours, clamps(11)), replications=2).rows.query('thing == "clamps"')["added"].tolist() == [
        1, 5, 9,
    ]  # fmt: skip


def test_a_step_that_does_nothing_counts_in_the_price_of_the_next(build: Callable[..., Scenario]) -> None:
    fours = OVERNIGHT.replace("count = 1", "count = 4")
    rows = compare_clamps(build(fours, clamps(8)), add=(3, 4), replications=2, threshold=0.2).rows
    # the fourth clamp alone saves half a day, but it takes four of them: an eighth of a day each
    mine = rows[rows["thing"] == "clamps"]
    assert mine["gain_a_clamp_days"].tolist() == [0, 0.5]
    assert mine["pays"].tolist() == [False, False]


def test_kinds_that_one_glue_up_takes_together_are_tried_together(build: Callable[..., Scenario]) -> None:
    steps = """
    { name = "glue", work = "5 min", in_clamps = "20 h", clamps = [{ count = 1, kind = "bar clamp" }, { count = 1, kind = "strap" }] },
    { name = "press", work = "5 min", in_clamps = "10 min", clamps = [{ count = 1, kind = "cam clamp" }] },
    """
    shop = clamps(1) + clamps(1, 10.0, "strap") + clamps(5, 2.0, "cam clamp")
    answer = compare_clamps(build(steps, shop), add=(1,), replications=2)
    rows = answer.rows[answer.rows["thing"] == "clamps"].set_index("kind")
    saved = rows["average_saved_days"]
    assert saved[["bar clamp", "strap", "cam clamp"]].tolist() == [0, 0, 0]
    assert saved["bar clamp + strap"] == saved["all kinds"] > 1
    assert rows.loc["bar clamp + strap", ["added", "cost", "owned"]].tolist() == [2, 40, 2]
    assert "2 more clamps (bar clamp and strap together) pay: for 40 the average order ships" in answer.sentence
    assert "of every kind" not in answer.sentence


def test_a_days_worth_in_money_decides_what_pays(build: Callable[..., Scenario]) -> None:
    # 1, 2, 3 more save 1.5, 2, 13/6 days for 30, 60, 90: the first day and a half cheaply, the rest dearly
    scenario = build(OVERNIGHT, clamps(1))
    for worth, paying in ((15, [False] * 3), (25, [True, False, False]), (70, [True, True, False]), (200, [True] * 3)):
        answer = compare_clamps(scenario, replications=2, day_worth=worth)
        rows = answer.rows[answer.rows["thing"] == "clamps"]
        assert rows["pays"].tolist() == paying
        assert rows["days_to_pay"].tolist() == pytest.approx([30 / worth, 60 / worth, 90 / worth])
        assert any(f"a day of the average for each {worth}" in note for note in answer.notes)


def test_without_a_price_days_count_and_it_says_so(build: Callable[..., Scenario]) -> None:
    answer = compare_clamps(build(OVERNIGHT, clamps(1, None)), replications=2, day_worth=1000)
    rows = answer.rows[answer.rows["thing"] == "clamps"]
    assert rows["days_to_pay"].tolist() == pytest.approx([0.1, 0.2, 0.3])
    assert "Where the file gives no price, each clamp has to save 0.1 day." in answer.notes


@pytest.mark.parametrize("worth", [{"money_a_day": 0.0}, {"money_a_day": float("inf")}, {"days_a_clamp": -1.0}])
def test_a_worth_that_is_none_is_refused(worth: dict[str, float]) -> None:
    with pytest.raises(InputError, match="above 0"):
        BreakEven(**worth)


def test_the_best_number_once_each_has_to_pay_is_told_from_the_rest(build: Callable[..., Scenario]) -> None:
    answer = compare_clamps(build(OVERNIGHT, clamps(1)), replications=3, threshold=0.3)
    rows = answer.rows[answer.rows["thing"] == "clamps"].set_index("added")
    # net of 0.3 day each: 1.2, 1.4, 1.27 days
    assert rows["may_be_best"].to_dict() == {1: False, 2: True, 3: False}


def test_more_that_is_surely_later_is_said_in_the_sentence(build: Callable[..., Scenario]) -> None:
    # Graham 1969: nine tasks that three do in 12 and four in 15; an hour of his is a day here
    times = (3, 2, 2, 2, 4, 4, 4, 4, 9)
    after = {9: [1], 5: [4], 6: [4], 7: [4], 8: [4]}
    steps = ", ".join(
        f'{{ name = "t{n}", after = {json.dumps([f"t{m}" for m in after.get(n, [])])}, work = "{24 * time} h", '
        'hands = 0, clamps = [{ kind = "cramp" }] }'
        for n, time in enumerate(times, 1)
    )
    shop = '[[shop.clamps]]\nname = "cramp"\ncount = 3\n'
    scenario = build(steps, shop, 'orders = 1\npriority = "oldest batch"', '"always"')
    answer = compare_clamps(scenario, add=(1, 6), replications=2, everything=False)
    rows = answer.rows.query('thing == "clamps" and under == ""').set_index("added")
    assert rows["average_ship_day"].to_dict() == {1: 14, 6: 11}  # done at the end of the 15th and 12th
    assert rows["average_saved_days"].to_dict() == {1: -3, 6: 0}
    assert rows["best_so_far_days"].tolist() == [0, 0]
    assert rows["is_worse"].tolist() == [True, False]
    assert "With 1 more cramp the average order ships 3.0 days later" in answer.sentence
    assert any("Graham 1966" in note for note in answer.notes)


# ---- until it can be told


def test_more_is_run_only_of_what_is_still_open_and_then_it_is_told(build: Callable[..., Scenario]) -> None:
    steps = OVERNIGHT.replace('"5 min"', '"3 / 5 / 9 min"').replace('"20 h"', '"18 / 20 / 23 h"')
    scenario = build(steps, clamps(1))
    short = compare_clamps(scenario, replications=200, threshold=0.3)
    whole = compare_clamps(scenario, threshold=0.3)
    assert set(short.rows["replications"]) == {200}
    assert set(whole.rows["replications"]) <= {200, 632, 2000}
    assert whole.rows["replications"].sum() < 2000 * len(whole.rows)
    still = short.rows["may_pay"] & (whole.rows["replications"] == 200)
    assert not still.any(), "of whatever may yet pay more is run"
    assert not (whole.rows["may_pay"] & (whole.rows["replications"] < 2000)).any()
    # the answer does not hang on what else is known
    known = run_study({"today": scenario}, replications=700)
    again = compare_clamps(scenario, threshold=0.3, reuse=known)
    assert again.rows.equals(whole.rows)
    assert again.sentence == whole.sentence


def test_batch_sizes_are_searched_for_every_wish(trays: Path) -> None:
    answer = compare_batch_sizes(load_scenario(trays), (1, 2, 4), matters_days=0.5)
    whole = run_study(BatchSizes(load_scenario(trays), (1, 2, 4)).alternatives, replications=2000)
    named = dict(
        zip(answer.rows["batch"], ("batches of 1, glue first", "now", "batches of 4, glue first"), strict=True)
    )
    for wish in ("first_ship_day", "hands_on_h_a_piece"):
        found = answer.rows.loc[answer.rows[f"may_be_best: {wish}"], "batch"].tolist()
        means = {size: float(whole.values(name, wish).mean()) for size, name in named.items()}
        margin = 0.5 if wish == "first_ship_day" else 0.1
        assert all(means[size] <= min(means.values()) + margin for size in found)
    assert answer.replications == answer.rows["replications"].min() == 200


@pytest.mark.usefixtures("simpy_only")  # whose runs are made one at a time
@pytest.mark.usefixtures("simpy_only")  # which looks after each run whether it has to stop
def test_a_search_that_is_stopped_answers_from_what_is_done_or_not_at_all(
    trays: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for module in (alternatives, clamps_plan):
        monkeypatch.setattr(module, "FIRST", 25)  # runs of each of 13 alternatives in the first look
    scenario = load_scenario(trays)
    asked = iter(range(10**6))
    answer = compare_batch_sizes(scenario, (1, 2, 4), matters_days=0.001, should_stop=lambda: next(asked) >= 300)
    assert answer.partial
    with pytest.raises(Cancelled):
        compare_clamps(scenario, should_stop=lambda: True)
    for stop in (40, 440, 560):  # in the first look at everything, and in what comes after it
        looks = iter(range(stop))
        answer = compare_clamps(scenario, matters_days=0.001, should_stop=lambda looks=looks: next(looks, None) is None)
        assert answer.rows["average_saved_days"].notna().all()
        assert answer.partial


def test_every_priority_rule_is_compared_on_the_same_luck(trays: Path) -> None:
    answer = compare_batch_sizes(load_scenario(trays), (1, 4), replications=20, priority_rules=PRIORITY_RULES)
    assert answer.rows["priority"].unique().tolist() == list(PRIORITY_RULES)
    assert answer.rows["is_now"].sum() == 1
    alone = compare_batch_sizes(load_scenario(trays), (1, 4), replications=20)
    mine = answer.rows[answer.rows["priority"] == "glue first"]
    assert mine["average_ship_day"].tolist() == alone.rows["average_ship_day"].tolist()
    assert mine["hands_on_h_a_piece"].tolist() == alone.rows["hands_on_h_a_piece"].tolist()
