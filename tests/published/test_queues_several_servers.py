"""Queues before several servers, queues of a few machines that break down, and racks that are never full."""

from __future__ import annotations

import math

import numpy as np
import pytest

from .many_runs import (
    DAY,
    HOUR,
    Sample,
    Seen,
    average_number,
    expect_means,
    exponential,
    replicate,
    replicate_orders,
    share_of_time_above,
    write_always_open,
    write_orders,
)

#: Minutes to a unit of time of the literature.
UNIT = 300.0

#: Chance of waiting in M/M/c: Erlang 1917, formula seen in several references, which were not kept. Servers, load of each, chance, and how
#: many replications of 10 000 orders tell it.
ERLANG_C = [
    (1, 0.9, 0.9, 20),
    (2, 0.5, 0.333333, 20),
    (2, 0.8, 0.711111, 20),
    (3, 0.7, 0.492344, 20),
    (5, 0.7, 0.377838, 26),
]


def list_workers(n: int) -> str:
    return "workers = [" + ", ".join(f'{{ name = "worker {k}" }}' for k in range(1, n + 1)) + "]"


def measure_wait(seen: Seen) -> dict[str, float]:
    came, start, left, _ = (moments / UNIT for moments in seen.times("serve"))
    wait = (start - came)[1000:]
    return {
        "chance": (wait > 0).mean(),
        "gap": np.diff(came).mean(),
        "service": (left - start).mean(),
    }


def run_several(servers: int, load: float, n: int, seed: int) -> Sample:
    """Up to three servers are workers; more are places of one station that needs nobody."""
    by_hand = servers <= 3
    place = "" if by_hand else f', {{ name = "bench", count = {servers} }}'
    need = "hands = 1" if by_hand else 'hands = 0, station = "bench"'
    text = write_always_open(
        f"""
        {{ name = "come", station = "door", hands = 0, work = {exponential(UNIT / servers / load)} }},
        {{ name = "serve", {need}, work = {exponential(UNIT)} }},
        """,
        shop=f'{list_workers(servers if by_hand else 1)}\nstations = [{{ name = "door" }}{place}]',
    )
    return replicate(text, measure_wait, n, seed)


@pytest.mark.parametrize(("servers", "load", "chance", "n"), ERLANG_C)
def test_an_order_waits_with_the_chance_of_erlang_c(servers: int, load: float, chance: float, n: int) -> None:
    # The mean wait, C / (c mu - lam), takes many more orders: it is compared for M/M/1 and, with clamps, for M/M/2.
    expect_means(
        lambda seed: run_several(servers, load, n, seed),
        {"chance": chance},
        known={"gap": 1 / servers / load, "service": 1.0},
    )


@pytest.mark.slow
def test_one_order_in_ten_waits_when_ten_are_offered_six() -> None:
    # (c, a) = (10, 6): posed with the answer "about .10" on a mathematics page (source not kept); .1013 by Erlang 1917.
    expect_means(
        lambda seed: run_several(10, 0.6, 76, seed), {"chance": 0.1013}, known={"gap": 1 / 6, "service": 1.0},
        rounded_to=0.0001,
    )  # fmt: skip


@pytest.mark.slow
def test_orders_of_a_file_wait_with_the_chance_of_erlang_c() -> None:
    # (c, a) = (3, 2): 4/9; posed on a mathematics page (source not kept); Erlang 1917. Here the orders stand in a file, with the
    # day and the minute in which each came.
    text = write_always_open(
        f'{{ name = "serve", work = {exponential(UNIT)} }},',
        shop=list_workers(3),
        run='orders = "orders.csv"\nrelease = "as ordered"\nbatch = 1',
    )

    def draw_shop(dice: np.random.Generator) -> tuple[str, dict[str, bytes]]:
        return text, {"orders.csv": write_orders(np.cumsum(dice.exponential(UNIT / 2, 5000)))}

    expect_means(
        lambda seed: replicate_orders(draw_shop, measure_wait, 20, seed),
        {"chance": 4 / 9},
        known={"gap": 1 / 2, "service": 1.0},
    )


def run_machines(run_hours: float, repair_hours: float, menders: int, orders: int, n: int, seed: int) -> Sample:
    """Five machines that run, break down and are mended, over and over.

    A piece is one round of a machine, running and then being mended; as five rounds are under way at any time, the
    machine that is mended starts its next.
    """
    text = write_always_open(
        f"""
        {{ name = "run", hands = 0, work = {exponential(run_hours * HOUR)} }},
        {{ name = "mend", work = {exponential(repair_hours * HOUR)} }},
        """,
        shop=list_workers(menders),
        run=f"orders = {orders}\nbatch = 1\npieces_open = 5",
    )

    def measure(seen: Seen) -> dict[str, float]:
        opened = seen.record.batch_opened
        since, until = opened[500], opened[-1]
        down, start, mended, _ = seen.times("mend")
        broke = (down >= since) & (down < until)
        mending = average_number(start, mended, since, until)
        running = 5 - average_number(down, mended, since, until)
        return {
            "P0": 1 - average_number(start, mended, since, until) / menders,
            "L": 5 - running,
            "Lq": average_number(down, start, since, until),
            "W": (mended - down)[broke].mean() / HOUR,
            "running": running,
            "F": (running + mending) / 5,
            "D": (start > down)[broke].mean(),
            "run": (down - seen.times("run").start).mean() / HOUR,
            "repair": (mended - start).mean() / HOUR,
        }

    return replicate(text, measure, n, seed)


@pytest.mark.parametrize(
    ("menders", "printed"),
    [
        (1, {"P0": 0.563952, "L": 0.639522, "Lq": 0.203474, "W": 2.933264, "running": 4.360478, "F": 0.959305,
             "D": 0.353337}),
        (2, {"running": 4.535206, "F": 0.997745, "D": 0.045216}),
    ],
)  # fmt: skip
def test_five_machines_break_down_as_the_finite_source_formulas_say(menders: int, printed: dict[str, float]) -> None:
    # Run 20 h, repair 2 h, exponential: Anderson, Sweeney & Williams, An Introduction to Management Science, finite
    # calling population, equations 11.35 to 11.39 (seen); with two menders worked out from the same chain.
    expect_means(
        lambda seed: run_machines(20, 2, menders, 5000 * menders, 22, seed),
        printed,
        known={"run": 20.0, "repair": 2.0},
    )


@pytest.mark.parametrize(("menders", "printed"), [(1, {"D": 0.350, "F": 0.960}), (2, {"D": 0.044, "F": 0.998})])
def test_five_machines_break_down_as_in_the_finite_queue_tables(menders: int, printed: dict[str, float]) -> None:
    # Peck & Hazelwood, Finite Queuing Tables, 1958: N = 5, X = T / (T + U) = .090, so .9 h of repair in 10 h. Seen in
    # Heizer & Render, Operations Management, appendix D, as a lecture copied it (the lecture was not kept). D: chance of waiting; F: running or being mended.
    expect_means(
        lambda seed: run_machines(9.1, 0.9, menders, 5000 * menders, 25, seed),
        printed,
        known={"run": 9.1, "repair": 0.9},
        rounded_to=0.001,
    )


@pytest.mark.parametrize(
    "cure",
    [
        '"36 h"',
        exponential(36 * HOUR),
        f'{{ law = "lognormal", median = "{36 * HOUR * math.exp(-0.32)!r} min", sigma = 0.8 }}',
    ],
    ids=["constant", "exponential", "lognormal"],
)
def test_a_rack_that_is_never_full_holds_a_poisson_number_whatever_the_law_of_drying(cure: str) -> None:
    # M/G/infinity (from memory): two coats a day that dry 1.5 days each: 3 drying on average, P(more than 4) .184737.
    text = write_always_open(
        f"""
        {{ name = "come", station = "door", hands = 0, work = {exponential(12 * HOUR)} }},
        {{ name = "coat", hands = 0, cure = {cure}, rest = "drying rack" }},
        """,
        run="orders = 6000",
        shop='stations = [{ name = "door" }]\nracks = [{ name = "drying rack", spots = 60 }]',
    )

    def measure(seen: Seen) -> dict[str, float]:
        came, _, end, dry = seen.times("coat")
        since, until = came[100], came[-1]
        assert np.array_equal(came, end)
        return {
            "drying": average_number(end, dry, since, until),
            "over four": share_of_time_above(end, dry, 4, since, until),
            "gap": np.diff(came).mean() / DAY,
            "cure": (dry - end).mean() / DAY,
        }

    known = {"gap": 0.5} if cure == '"36 h"' else {"gap": 0.5, "cure": 1.5}
    expect_means(lambda seed: replicate(text, measure, 20, seed), {"drying": 3.0, "over four": 0.184737}, known=known)
