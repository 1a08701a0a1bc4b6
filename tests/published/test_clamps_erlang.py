"""Clamps as a counted resource: what so many sets let one worker do, in closed form.

The main one: a worker with glue-ups always waiting stands idle when all N sets are curing, so the sets are the N lines
of Erlang's telephone exchange.
"""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest

from shopsim import parse_scenario, run_once

from .many_runs import (
    HOUR,
    Sample,
    Seen,
    control_queue,
    erlang_moments,
    expect_means,
    exponential,
    known_of_queue,
    replicate,
    write_always_open,
)

#: Glue-ups an hour with N sets, exactly 3 (1 - B(N, 3)), worked out here with B as a quotient of sums: no printed table.
ERLANG_B = {1: 3 / 4, 2: 24 / 17, 3: 51 / 26, 4: 312 / 131, 5: 1965 / 736, 6: 4416 / 1553}
#: Laws of a cure of 60 minutes on average: without spread, squared spread 1, and .9.
CURES = {
    "constant": '"60 min"',
    "exponential": exponential(60.0),
    "lognormal": f'{{ law = "lognormal", median = "{60 * math.exp(-0.32)!r} min", sigma = 0.8 }}',
}


@pytest.mark.parametrize("sets", ERLANG_B)
def test_the_rates_are_those_of_erlangs_quotient_of_sums(sets: int) -> None:
    # Erlang 1917: B(N, a) = (a^N / N!) / (1 + a + ... + a^N / N!), here with a = 60 min / 20 min, in whole numbers.
    terms = [Fraction(3**k, math.factorial(k)) for k in range(sets + 1)]
    assert float(3 * (1 - terms[-1] / sum(terms))) == pytest.approx(ERLANG_B[sets], rel=1e-15)


def write_glue_ups(sets: int, work: str, cure: str, orders: int) -> str:
    """One maker, glue-ups always waiting; a set of two clamps is held until the end of the cure."""
    return write_always_open(
        f'{{ name = "glue", work = {work}, clamps = [{{ count = 2, reach = "18 in" }}], in_clamps = {cure} }},',
        shop=f'clamps = [{{ name = "bar clamp", reach = "24 in", count = {2 * sets} }}]',
        run=f"orders = {orders}",
    )


def run_glue_ups(sets: int, cure: str, n: int, seed: int) -> Sample:
    def measure(seen: Seen) -> dict[str, float]:
        _, start, end, done = seen.times("glue")
        return {
            "an hour": (start.size - 101) / ((start[-1] - start[100]) / HOUR),
            "minutes a glue-up": (end - start).mean(),
            "minutes a cure": (done - end).mean(),
        }

    return replicate(write_glue_ups(sets, exponential(20.0), cure, 2000), measure, n, seed)


@pytest.mark.parametrize("law", CURES)
@pytest.mark.parametrize("sets", ERLANG_B)
def test_clamp_sets_give_the_glue_ups_of_erlang_b_whatever_the_law_of_the_cure(sets: int, law: str) -> None:
    # Glue-up 20 min, exponential; cure 60 min on average: 3 (1 - B(N, 3)) an hour. Erlang 1917; the same for every law
    # of the cure: Sevastyanov 1957, Theory of Probability and its Applications 2:104-112. Theorem from memory; that a
    # maker with nothing but glue-ups is such an exchange (idle when all sets cure) is worked out here.
    known = {"minutes a glue-up": 20.0, "minutes a cure": 60.0}
    if law == "constant":
        del known["minutes a cure"]
    expect_means(lambda seed: run_glue_ups(sets, CURES[law], 20, seed), {"an hour": ERLANG_B[sets]}, known=known)


@pytest.mark.parametrize(("sets", "an_hour"), [(1, 0.75), (2, 1.5), (3, 2.25), (4, 3), (5, 3), (6, 3)])
def test_clamp_sets_without_luck_give_the_lesser_of_two_rates(sets: int, an_hour: float) -> None:
    # Elementary: min(1 / g, N / (g + c)) with g = 20 and c = 60 minutes; the pattern repeats after 80 minutes.
    run = run_once(parse_scenario(write_glue_ups(sets, '"20 min"', '"60 min"', 400)))
    start = run.record.start
    inside = (start >= 8 * HOUR) & (start < 88 * HOUR)
    assert inside.sum() / 80 == an_hour


def write_clamped_orders(clamps: int, orders: int) -> str:
    """Orders come through a door, 1.5 an hour; each takes four clamps for an hour on average, and nobody's time."""
    return write_always_open(
        f"""
        {{ name = "come", station = "door", hands = 0, work = {exponential(40.0)} }},
        {{ name = "clamp", hands = 0, clamps = [{{ count = 4, reach = "18 in" }}], in_clamps = {exponential(60.0)} }},
        """,
        shop=f"""
        stations = [{{ name = "door" }}]
        clamps = [{{ name = "bar clamp", reach = "24 in", count = {clamps} }}]
        """,
        run=f"orders = {orders}",
    )


@pytest.mark.slow
def test_eleven_clamps_taken_four_at_a_time_are_two_servers() -> None:
    # M/M/2 with 1.5 an hour and an hour each waits 9/7 h (Erlang 1917; that 11 clamps are floor(11 / 4) servers is
    # worked out here).
    gap, cure = erlang_moments(2 / 3), erlang_moments(1.0)

    def measure(seen: Seen) -> dict[str, float]:
        came, start, end, done = (moments / HOUR for moments in seen.times("clamp"))
        return {"wait": (start - came)[1000:].mean(), **control_queue(came, done - end, gap, cure, servers=2)}

    expect_means(
        lambda seed: replicate(write_clamped_orders(11, 10_000), measure, 36, seed),
        {"wait": 9 / 7},
        known=known_of_queue(gap, cure, servers=2),
    )


def test_clamps_that_do_not_make_up_a_set_change_nothing() -> None:
    def starts(clamps: int) -> np.ndarray:
        return run_once(parse_scenario(write_clamped_orders(clamps, 2000)), seed=7).record.start

    assert np.array_equal(starts(8), starts(9))
    assert np.array_equal(starts(8), starts(11))
    assert not np.array_equal(starts(8), starts(12))


def test_an_assembly_of_three_parts_waits_for_the_slowest() -> None:
    # The mean of the latest of three exponential times of mean 1 is 1 + 1/2 + 1/3 = 11/6 (from memory).
    parts = "\n".join(f'{{ name = "part {k}", after = [], hands = 0, work = {exponential(60.0)} }},' for k in (1, 2, 3))
    text = write_always_open(
        f'{parts}\n{{ name = "assemble", after = ["part 1", "part 2", "part 3"], work = "0 min" }},',
        run="orders = 1500",
    )

    def measure(seen: Seen) -> dict[str, float]:
        return {"wait": seen.times("assemble").ready.mean() / HOUR}

    expect_means(lambda seed: replicate(text, measure, 20, seed), {"wait": 11 / 6})
