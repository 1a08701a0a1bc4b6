"""In shops at random what is said of more clamps agrees with its table: what pays, what is sure, and every number."""

from __future__ import annotations

import re
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shopsim.answers import Answer, compare_clamps
from shopsim.answers.clamp_words import NOT, UNSURE
from shopsim.scenario import Scenario, parse_scenario

from .sentences import find_unsaid, stated

CALM = 'interrupted = "0 %"\nlost_days = "0 %"\n'
DAILY = '{ mon-sun = "08:00-16:00" }'


@pytest.fixture
def build(write_shop: Callable[..., str]) -> Callable[..., Scenario]:
    def make(work: str, stay: str, take: int, owned: int, orders: int) -> Scenario:
        glue = f'{{ name = "glue", work = "{work}", clamps = [{{ count = {take}, reach = "20 in" }}], in_clamps = "{stay}" }}'
        own = f'[[shop.clamps]]\nname = "bar clamp"\nreach = "24 in"\ncount = {owned}\nprice = 30.0\n'
        run = f"orders = {orders}"
        return parse_scenario(write_shop(glue, shop=CALM + own, run=run, open=DAILY))

    return make


def check_against_table(answer: Answer) -> None:
    """What is said to pay, to be sure and to be cheapest is so in the rows."""
    clamps = answer.rows[answer.rows["thing"] == "clamps"]
    said = answer.sentence
    pays, may = clamps["pays"].any(), clamps["may_pay"].any()
    assert not (clamps["pays"] & clamps["may_pay"]).any()
    assert (" pay: for " in said or " pays: for " in said) == pays
    assert said.startswith(UNSURE) == (may and not pays) or "but what costs nothing" in said
    assert said.startswith(NOT) == (not may and not pays) or "but what costs nothing" in said
    if pays:
        cheapest = clamps[clamps["pays"]].sort_values("cost").iloc[0]
        assert re.search(rf"{cheapest['added']} more bar clamps? pays?: for {cheapest['cost']:,.0f} ", said)
        assert cheapest["average_saved_days_low"] >= cheapest["days_to_pay"] - 1e-9
    if "which is sure" in said:
        assert (clamps["may_pay"] & (clamps["average_saved_days_low"] > 0)).any()


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    minutes=st.integers(5, 240), spread=st.floats(1.0, 3.0), hours=st.integers(1, 40), take=st.integers(1, 3),
    spare=st.integers(0, 4), orders=st.integers(2, 7), threshold=st.sampled_from([0.02, 0.1, 0.5]),
)  # fmt: skip
def test_in_shops_at_random_the_sentence_stands_in_its_table(
    build: Callable[..., Scenario], minutes: int, spread: float, hours: int, take: int, spare: int, orders: int,
    threshold: float,
) -> None:  # fmt: skip
    work = f"{max(1, int(minutes / spread))} / {minutes} / {int(minutes * spread)} min"
    stay = f"{max(1, int(hours / spread))} / {hours} / {int(hours * spread)} h"
    scenario = build(work, stay, take, take + spare, orders)
    answer = compare_clamps(
        scenario, replications=12, seed=int(np.uint32(minutes * 31 + hours)),
        threshold=threshold, everything=False, steps=(1, 2),
    )  # fmt: skip
    check_against_table(answer)
    assert find_unsaid(answer, {*stated(scenario, answer), f"{threshold:g}"}) == []
