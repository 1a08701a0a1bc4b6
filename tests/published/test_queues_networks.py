"""Stations one after the other, stations with random routes between them, and two classes of orders."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from .many_runs import (
    Moments,
    Sample,
    Seen,
    average_number,
    batch_done,
    control_queue,
    erlang_moments,
    expect_means,
    expect_quantile,
    exponential,
    known_of_queue,
    replicate,
    replicate_orders,
    write_always_open,
    write_orders,
)

#: Minutes to a unit of time of the literature.
UNIT = 300.0
APART = 400


@cache
def run_tandem(seed: int) -> Sample:
    """A door of .5 a unit, a bench of rate 1 and a bench of rate .8; stays in units."""
    text = write_always_open(
        f"""
        {{ name = "come", station = "door", hands = 0, work = {exponential(2 * UNIT)} }},
        {{ name = "first", station = "first", hands = 0, work = {exponential(UNIT)} }},
        {{ name = "second", station = "second", hands = 0, work = {exponential(1.25 * UNIT)} }},
        """,
        shop='stations = [{ name = "door" }, { name = "first" }, { name = "second" }]',
    )

    def measure(seen: Seen) -> dict[str, float]:
        first, second = seen.times("first"), seen.times("second")
        stay = (second.end - first.ready)[1000:] / UNIT
        return {
            "stay": stay.mean(),
            "at the first": (first.end - first.ready)[1000:].mean() / UNIT,
            "at the second": (second.end - second.ready)[1000:].mean() / UNIT,
            "up to the 90 % point": (stay <= 10.4738).mean(),
            "gap": np.diff(first.ready).mean() / UNIT,
            "first": (first.end - first.start).mean() / UNIT,
            "second": (second.end - second.start).mean() / UNIT,
            **{f"stay of order {n}": time for n, time in enumerate(stay[::APART])},
        }

    return replicate(text, measure, 24, seed)


def test_the_stays_at_two_stations_in_a_row_add_up() -> None:
    # Burke 1956, Operations Research 4:699-704; Reich 1957, Annals of Mathematical Statistics 28:768-773 (from memory):
    # 1 / (1 - .5) + 1 / (.8 - .5) = 16/3.
    printed = {"stay": 16 / 3, "at the first": 2.0, "at the second": 10 / 3}
    expect_means(run_tandem, printed, known={"gap": 2.0, "first": 1.0, "second": 1.25})


def test_the_stays_at_two_stations_in_a_row_are_independent() -> None:
    # Then the sum of the two exponential stays has its 90 % point at 10.4738.
    def draw_apart(seed: int) -> np.ndarray:
        return np.concatenate([found for name, found in run_tandem(seed).items() if name.startswith("stay of order")])

    expect_quantile(draw_apart, 0.9, 10.4738)
    expect_means(run_tandem, {"up to the 90 % point": 0.9})


NETWORK_UNIT = 10_000.0
#: Where an order goes next, with equal chances; None: out.
NEXT = {1: (2, 3, None), 2: (3,), 3: (2, None)}
RATE = {1: 10.0, 2: 50.0, 3: 100.0}
ENTRY = {1: 5.0, 2: 10.0, 3: 15.0}


def draw_routes(dice: np.random.Generator, n: int) -> list[tuple[int, ...]]:
    """The stations each order will visit. They do not hang on what happens in the shop, so are known when it comes."""
    routes = []
    for first in dice.choice(list(ENTRY), n, p=np.array(list(ENTRY.values())) / sum(ENTRY.values())):
        route, at = [], int(first)
        while at is not None:
            route.append(at)
            at = NEXT[at][dice.integers(len(NEXT[at]))]
        routes.append(tuple(route))
    return routes


def draw_network(dice: np.random.Generator) -> tuple[str, dict[str, bytes]]:
    """A shop of three workers, each with a kind of work of their own; each route is a design with orders of its own.

    Workers and not stations, because a shop goes on with what a station is set for, and so would prefer some routes.
    """
    n = 10_000
    came = np.cumsum(dice.exponential(NETWORK_UNIT / sum(ENTRY.values()), n))
    routes = draw_routes(dice, n)
    designs, lines, files = [], [], {}
    for number, route in enumerate(sorted(set(routes))):
        visits = ", ".join(
            f'{{ name = "{at} as visit {k}", work = {exponential(NETWORK_UNIT / RATE[at])} }}'
            for k, at in enumerate(route)
        )
        designs.append(f'[[designs]]\nname = "route {number}"\noperations = [{visits}]\n')
        lines.append(f'[[run.lines]]\ndesign = "route {number}"\norders = "{number}.csv"\nbatch = 1\n')
        files[f"{number}.csv"] = write_orders(came[k] for k in range(n) if routes[k] == route)
    visited = sorted({(at, k) for route in routes for k, at in enumerate(route)})
    workers = ", ".join(
        f'{{ name = "{station}", can = {[f"{at} as visit {k}" for at, k in visited if at == station]} }}'
        for station in RATE
    )
    text = (
        f'[shop]\nopen = "always"\nworkers = [{workers}]\n{"".join(designs)}'
        f'[run]\nstart = 2027-01-01\nrelease = "as ordered"\n{"".join(lines)}'
    )
    return text, files


@pytest.mark.slow
def test_a_network_with_random_routes_holds_as_many_as_jackson_says() -> None:
    # Jackson 1957, Operations Research 5:518-521; the numbers are an exercise of Ross, Introduction to Probability
    # Models, chapter on queueing networks (problem seen, answer from memory): from outside 5, 10, 15; services 10, 50,
    # 100; then 5, 40, 56.667 pass the stations, L = 82/13 and W = 41/195.
    # Worked out here, for the control columns: an order brings the second station no work with chance 1/3, else a
    # geometric number of services, which together are exponential with mean 2/50.
    gap = erlang_moments(1 / 30)
    chance, mean = 2 / 3, 2 / 50
    first, second, third = chance * mean, 2 * chance * mean**2, 6 * chance * mean**3
    work_at_2 = Moments(first, second - first**2, third - 3 * first * second + 2 * first**3)

    def measure(seen: Seen) -> dict[str, float]:
        came, left = seen.record.batch_opened / NETWORK_UNIT, batch_done(seen) / NETWORK_UNIT
        since, until = came[500], came[-1]
        work = seen.plan.worklist
        station = np.array([step.workers[0] for step in work.steps])[np.asarray(work.task_step)]
        at_2 = np.where(station == 1, seen.record.work_min, 0.0) / NETWORK_UNIT
        brought = np.bincount(np.asarray(work.task_batch), weights=at_2, minlength=came.size)
        return {
            "L": average_number(came, left, since, until),
            "W": (left - came)[500:-300].mean(),
            **{f"rate of {k + 1}": (station == k).sum() / came[-1] for k in range(3)},
            **control_queue(came, brought, gap, work_at_2),
        }

    @cache
    def draw(seed: int) -> Sample:
        return replicate_orders(draw_network, measure, 20, seed)

    expect_means(draw, {"rate of 1": 5.0, "rate of 2": 40.0, "rate of 3": 56.667})
    expect_means(draw, {"L": 82 / 13, "W": 41 / 195}, known=known_of_queue(gap, work_at_2))


CLASSES = {"rush": 0.3, "plain": 0.4}


def measure_classes(seen: Seen) -> dict[str, float]:
    """Mean waits of the two classes, in units, while both still come."""
    classes = {name: seen.times(name) for name in CLASSES}
    since, until = 1000 * UNIT, min(times.ready[-1] for times in classes.values())
    found = {}
    for name, times in classes.items():
        inside = (times.ready >= since) & (times.ready < until)
        found[name] = (times.start - times.ready)[inside].mean() / UNIT
    came, start, left, _ = (np.concatenate(moments) / UNIT for moments in zip(*classes.values(), strict=True))
    order = np.argsort(came)[: (came < until / UNIT).sum()]
    return found | control_queue(came[order], (left - start)[order], erlang_moments(1 / 0.7), erlang_moments(1.0))


KNOWN_OF_CLASSES = known_of_queue(erlang_moments(1 / 0.7), erlang_moments(1.0))


@pytest.mark.slow
def test_the_older_batch_goes_first_and_both_wait_as_cobham_says() -> None:
    # Cobham 1954, Operations Research 2:70-76 (from memory): two classes, lam .3 (goes first) and .4, exponential
    # service of rate 1, work once begun is finished: Wq 1 and 3.3333. The classes are two batches, each with a door of
    # its own.
    designs = "".join(
        f"""
        [[designs]]
        name = "{name}"
        operations = [
        {{ name = "come", station = "door of {name}", hands = 0, work = {exponential(UNIT / rate)} }},
        {{ name = "{name}", work = {exponential(UNIT)} }},
        ]
        """
        for name, rate in CLASSES.items()
    )
    text = f"""
        [shop]
        open = "always"
        stations = [{{ name = "door of rush" }}, {{ name = "door of plain" }}]
        {designs}
        [run]
        start = 2027-01-01
        priority = "oldest batch"
        lines = [{{ design = "rush", orders = 4280 }}, {{ design = "plain", orders = 5720 }}]
        """
    expect_means(
        lambda seed: replicate(text, measure_classes, 50, seed),
        {"rush": 1.0, "plain": 3.3333},
        known=KNOWN_OF_CLASSES,
    )


@pytest.mark.slow
def test_an_order_that_a_rule_of_ones_own_puts_first_waits_as_cobham_says() -> None:
    # The same queue with orders of two files and a rule in Python: rush before plain, first come first served.
    designs = "".join(
        f'[[designs]]\nname = "{name}"\noperations = [{{ name = "{name}", work = {exponential(UNIT)} }}]\n'
        for name in CLASSES
    )
    lines = "".join(f'[[run.lines]]\ndesign = "{name}"\norders = "{name}.csv"\nbatch = 1\n' for name in CLASSES)
    text = f'[shop]\nopen = "always"\n{designs}[run]\nstart = 2027-01-01\nrelease = "as ordered"\n{lines}'

    def draw_shop(dice: np.random.Generator) -> tuple[str, dict[str, bytes]]:
        n = {"rush": 3430, "plain": 4570}
        return text, {
            f"{name}.csv": write_orders(np.cumsum(dice.exponential(UNIT / rate, n[name])))
            for name, rate in CLASSES.items()
        }

    def draw(seed: int) -> Sample:
        rule = lambda task: (task.design != "rush", task.ready_min)  # noqa: E731
        return replicate_orders(draw_shop, measure_classes, 20, seed, rule)

    expect_means(draw, {"rush": 1.0}, known=KNOWN_OF_CLASSES)
