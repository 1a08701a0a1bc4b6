"""What is said of more clamps, against closed forms: a shop with one pair of hands and N clamp sets is Erlang's loss system.

A glue-up takes the maker's time and a clamp set, which cures on its own for a while. Work always waits. The maker is
idle only while all sets cure, so glue-ups leave at the rate of a loss system with N servers that arrivals of the
glue-up's rate try (A. K. Erlang 1917): mu (1 - B(N, a)) with a = cure time / glue-up time. It holds whatever the law
of the cure (B. A. Sevastyanov 1957; both from memory, the numbers by the recursion below).
"""

from __future__ import annotations

import numpy as np
import pytest

from shopsim import Scenario, parse_scenario
from shopsim.answers import compare_clamps, find_holdups

from .test_clamps_erlang import ERLANG_B

GLUE_MIN, CURE_MIN = 20.0, 60.0
EVEN = {1: 0.75, 2: 1.5, 3: 2.25, 4: 3.0, 5: 3.0, 6: 3.0}  # both times constant: min(1 / g, N / (g + c))
CURES = {
    "constant": '"60 min"',
    "exponential": '{ law = "exponential", mean = "60 min" }',
    "lognormal": f'{{ law = "lognormal", median = "{60 * np.exp(-0.32):.6f} min", sigma = 0.8 }}',
}


def shop(work: str, cure: str, glue_ups: int, owned: int, takes: int = 1) -> Scenario:
    """A shop that never closes, where one maker glues up batch after batch."""
    return parse_scenario(
        f"""
        [shop]
        open = "always"
        [[shop.clamps]]
        name = "set"
        count = {owned}
        [design]
        name = "frame"
        [[design.operations]]
        name = "glue"
        work = {work}
        clamps = [{{ kind = "set", count = {takes} }}]
        in_clamps = {cure}
        [run]
        orders = {glue_ups}
        start = 2027-01-11
        priority = "oldest batch"
        """
    )


def loss(servers: int, load: float) -> float:
    """Erlang's B by its recursion."""
    blocked = 1.0
    for n in range(1, servers + 1):
        blocked = load * blocked / (n + load * blocked)
    return blocked


def test_the_recursion_gives_the_rates_of_the_quotient_of_sums() -> None:
    for sets, rate in ERLANG_B.items():
        assert 60 / GLUE_MIN * (1 - loss(sets, CURE_MIN / GLUE_MIN)) == pytest.approx(rate, rel=1e-14)


@pytest.mark.parametrize("cure", CURES)
def test_glue_ups_leave_at_erlangs_rate_whatever_the_law_of_the_cure(cure: str) -> None:
    glue_ups = 900
    answer = compare_clamps(
        shop('{ law = "exponential", mean = "20 min" }', CURES[cure], glue_ups, 1), add=range(1, 6), replications=20,
        everything=False,
    )  # fmt: skip
    assert answer.study is not None
    names = {sets: "now" if sets == 1 else f"{sets - 1} more set (clamps)" for sets in ERLANG_B}
    for sets, rate in ERLANG_B.items():
        rates = glue_ups / (answer.study.values(names[sets], "makespan_days") * 24)
        error = rates.std(ddof=1) / np.sqrt(rates.size)
        assert error < 0.012 * rate
        # the last sets to come off, after the last glue-up, belong to no steady state: an hour and a bit in hundreds
        start_and_end = rate * rate * 2.5 / glue_ups
        assert abs(rates.mean() - rate) < 4 * error + start_and_end, f"{sets} sets"
    rows = answer.rows[answer.rows["thing"] == "clamps"]
    assert (rows["average_saved_days"].diff().dropna() > 0).all()
    days = {sets: glue_ups / rate / 24 for sets, rate in ERLANG_B.items()}
    for row in rows.itertuples():
        assert row.last_saved_days == pytest.approx(days[1] - days[1 + row.added], abs=1.5)


def test_with_constant_times_the_fourth_set_is_the_last_that_helps() -> None:
    glue_ups = 480
    answer = compare_clamps(
        shop('"20 min"', '"60 min"', glue_ups, 1), add=range(1, 6), replications=2, everything=False
    )
    assert answer.study is not None
    for sets, rate in EVEN.items():
        name = "now" if sets == 1 else f"{sets - 1} more set (clamps)"
        finished = answer.study.values(name, "makespan_days")[0] * 24
        # the first of each round begins at 0; the last glue-up ends with its cure
        assert finished == pytest.approx(glue_ups / rate, abs=1.4)
    rows = answer.rows[answer.rows["thing"] == "clamps"].set_index("added")
    assert rows["step_saved_days"].round(9).tolist()[3:] == [0, 0]
    assert rows.loc[3, "step_saved_days"] > 1
    assert rows["pays"].tolist() == [True, True, True, False, False]
    assert "1 more set pays: the average order ships" in answer.sentence
    assert "3 instead of 2 save another" in answer.sentence
    assert "Still more does not pay." in answer.sentence


def test_eleven_clamps_in_fours_are_two_glue_ups_and_the_twelfth_makes_a_third() -> None:
    exponential = '{ law = "exponential", mean = "60 min" }'
    answer = compare_clamps(shop('"2 min"', exponential, 400, 8, takes=4), add=(1, 2, 3, 4), replications=8)
    assert answer.study is not None
    now = answer.study.outcomes["now"].measured
    for more in (1, 2, 3):
        same = answer.study.outcomes[f"{more} more set (clamps)"].measured
        assert np.array_equal(same, now), "the ninth to eleventh change nothing, to the last bit"
    rows = answer.rows[answer.rows["thing"] == "clamps"].set_index("added")
    assert rows.loc[[1, 2, 3], "average_saved_days"].tolist() == [0, 0, 0]
    assert rows.loc[4, "average_saved_days_low"] > 1


def test_a_shop_where_clamps_cannot_matter_is_told_that_hands_are_the_limit() -> None:
    # one glue-up at a time by one maker: with cures shorter than the glue-up a second set is all that is ever used
    scenario = shop('"20 min"', '"10 min"', 480, 2)
    answer = find_holdups(scenario, replications=3, accounted=1)
    rows = answer.rows.set_index("thing")
    assert (rows.loc["clamps", "average_saved_days_low"], rows.loc["clamps", "average_saved_days_high"]) == (0, 0)
    # three an hour by one; two makers with two sets of half an hour each make four: 120 h in place of 160
    assert rows.loc["worker", "average_saved_days"] == pytest.approx(40 / 24 / 2, abs=0.1)
    assert "Your hands are the limit, not your clamps: 1 more set would save nothing at all." in answer.sentence
