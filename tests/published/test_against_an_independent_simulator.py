"""Three shops that have no closed form, run here and by Ciw, a general library of queues written by others.

Both give a mean with its standard error, at most 1 % of it, from at least 20 replications; they have to agree within 4
standard errors of the difference. A comparison that fails is made once more with fresh seeds, as in many_runs. Ciw
draws from a stream of its own, so nothing is shared but the description of the shop.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import ciw
import numpy as np
import pytest

from .many_runs import (
    FIRST_SEED,
    FRESH_SEED,
    HOUR,
    MAX_ERROR_SHARE,
    MAX_STANDARD_ERRORS,
    MIN_REPLICATIONS,
    Sample,
    Seen,
    estimate_mean,
    exponential,
    replicate,
    write_always_open,
)

ORDERS = 3500
Network = Any
Record = Any


def erlang(mean_hours: float, shape: int) -> str:
    return f'{{ law = "erlang", mean = "{mean_hours} h", shape = {shape} }}'


def summarise(name: str, arrival: np.ndarray, wait: np.ndarray, service: np.ndarray) -> dict[str, float]:
    """Hours from coming to leaving, and the share that waits, without the first and the last tenth of the orders."""
    middle = slice(arrival.size // 10, -(arrival.size // 10))
    return {
        f"{name}: stay": (wait + service)[middle].mean(),
        f"{name}: waits": (wait[middle] > 0).mean(),
        f"{name}: gap": np.diff(arrival).mean(),
        f"{name}: service": service.mean(),
    }


def summarise_ours(seen: Seen, name: str) -> dict[str, float]:
    ready, start, _, done = (moments / HOUR for moments in seen.times(name))
    return summarise(name, ready, start - ready, done - start)


_theirs: dict[tuple[str, int], Sample] = {}


def run_theirs(network: Network, is_of: Mapping[str, Callable[[Record], bool]], n: int, seed: int) -> Sample:
    """A sample of runs by Ciw, which is made once; ``is_of``: which of its records belong to each name of this shop."""
    key = (" ".join(is_of), seed)
    if key not in _theirs:
        _theirs[key] = _run_theirs(network, is_of, n, seed)
    return _theirs[key]


def _run_theirs(network: Network, is_of: Mapping[str, Callable[[Record], bool]], n: int, seed: int) -> Sample:
    rows = []
    for k in range(n):
        ciw.seed(seed * 1000 + k)
        simulation = ciw.Simulation(network)
        simulation.simulate_until_max_customers(ORDERS, method="Finish")
        records = sorted(simulation.get_all_records(only=["service"]), key=lambda record: record.arrival_date)
        row: dict[str, float] = {}
        for name, belongs in is_of.items():
            columns = ("arrival_date", "waiting_time", "service_time")
            mine = [record for record in records if belongs(record)]
            row |= summarise(name, *(np.array([getattr(record, column) for record in mine]) for column in columns))
        rows.append(row)
    return {name: np.array([row[name] for row in rows]) for name in rows[0]}


def expect_same(
    ours: Callable[[int], Sample], theirs: Callable[[int], Sample], names: Sequence[str], known: Mapping[str, float]
) -> None:
    """Fail if stays or shares that wait differ, twice, by more than their standard errors allow."""

    def find_differences(seed: int) -> dict[str, str]:
        mine, other = ours(seed), theirs(seed)
        found = {}
        for name in [f"{name}: {what}" for name in names for what in ("stay", "waits")]:
            assert min(mine[name].size, other[name].size) >= MIN_REPLICATIONS
            (a, error_a), (b, error_b) = estimate_mean(mine, name, known), estimate_mean(other, name, known)
            apart = abs(a - b) / math.hypot(error_a, error_b)
            if max(error_a / a, error_b / b) > MAX_ERROR_SHARE or apart > MAX_STANDARD_ERRORS:
                found[name] = f"{a:.5g} +- {error_a:.2g} here, {b:.5g} +- {error_b:.2g} there"
        return found

    first = find_differences(FIRST_SEED)
    again = find_differences(FRESH_SEED) if first else {}
    twice = [f"{name}: {first[name]}; with fresh seeds {again[name]}" for name in first if name in again]
    if twice:
        pytest.fail("\n".join(twice))


@pytest.mark.slow
def test_sets_of_clamps_with_lognormal_cures_fill_as_in_the_other_simulator() -> None:
    # Orders at random, four of twelve clamps each, lognormal cures: M/G/3.
    sigma = 0.8
    median = math.exp(-(sigma**2) / 2)
    cure = f'{{ law = "lognormal", median = "{median!r} h", sigma = {sigma} }}'
    text = write_always_open(
        f"""
        {{ name = "come", station = "door", hands = 0, work = {exponential(HOUR / 1.8)} }},
        {{ name = "glue", hands = 0, clamps = [{{ count = 4, reach = "18 in" }}], in_clamps = {cure} }},
        """,
        shop='stations = [{ name = "door" }]\nclamps = [{ name = "bar clamp", reach = "24 in", count = 12 }]',
        run=f"orders = {ORDERS}",
    )
    network = ciw.create_network(
        arrival_distributions=[ciw.dists.Exponential(rate=1.8)],
        service_distributions=[ciw.dists.Lognormal(mean=math.log(median), sd=sigma)],
        number_of_servers=[3],
    )
    expect_same(
        lambda seed: replicate(text, lambda seen: summarise_ours(seen, "glue"), 38, seed),
        lambda seed: run_theirs(network, {"glue": lambda record: True}, 38, seed),
        ["glue"],
        {"glue: gap": 1 / 1.8, "glue: service": 1.0},
    )


@pytest.mark.slow
def test_two_workers_and_then_a_bench_fill_as_in_the_other_simulator() -> None:
    # Erlang times: two workers at the first station, one bench at the second.
    text = write_always_open(
        f"""
        {{ name = "come", station = "door", hands = 0, work = {exponential(HOUR / 0.6)} }},
        {{ name = "shape", work = {erlang(2, 3)} }},
        {{ name = "fit", hands = 0, station = "bench", work = {erlang(1, 2)} }},
        """,
        shop='workers = [{ name = "maker" }, { name = "helper" }]\nstations = [{ name = "door" }, { name = "bench" }]',
        run=f"orders = {ORDERS}",
    )
    network = ciw.create_network(
        arrival_distributions=[ciw.dists.Exponential(rate=0.6), None],
        service_distributions=[ciw.dists.Erlang(rate=1.5, num_phases=3), ciw.dists.Erlang(rate=2.0, num_phases=2)],
        number_of_servers=[2, 1],
        routing=[[0.0, 1.0], [0.0, 0.0]],
    )
    is_of = {"shape": lambda record: record.node == 1, "fit": lambda record: record.node == 2}
    expect_same(
        lambda seed: replicate(
            text, lambda seen: summarise_ours(seen, "shape") | summarise_ours(seen, "fit"), 26, seed
        ),
        lambda seed: run_theirs(network, is_of, 26, seed),
        ["shape", "fit"],
        {"shape: gap": 1 / 0.6, "shape: service": 2.0, "fit: service": 1.0},
    )


@pytest.mark.slow
def test_rush_orders_before_two_workers_pass_the_others_as_in_the_other_simulator() -> None:
    # Two classes with different laws, two workers, rush before plain and no work broken off.
    designs = "".join(
        f"""
        [[designs]]
        name = "{name}"
        operations = [
        {{ name = "come", station = "door of {name}", hands = 0, work = {exponential(HOUR / rate)} }},
        {{ name = "{name}", work = {work} }},
        ]
        """
        for name, rate, work in (("rush", 0.6, erlang(0.8, 2)), ("plain", 0.6, exponential(HOUR)))
    )
    text = f"""
        [shop]
        open = "always"
        workers = [{{ name = "maker" }}, {{ name = "helper" }}]
        stations = [{{ name = "door of rush" }}, {{ name = "door of plain" }}]
        {designs}
        [run]
        start = 2027-01-01
        priority = "oldest batch"
        lines = [{{ design = "rush", orders = {ORDERS // 2} }}, {{ design = "plain", orders = {ORDERS // 2} }}]
        """
    network = ciw.create_network(
        arrival_distributions={"rush": [ciw.dists.Exponential(rate=0.6)], "plain": [ciw.dists.Exponential(rate=0.6)]},
        service_distributions={
            "rush": [ciw.dists.Erlang(rate=2.5, num_phases=2)],
            "plain": [ciw.dists.Exponential(rate=1.0)],
        },
        number_of_servers=[2],
        priority_classes={"rush": 0, "plain": 1},
    )
    is_of = {
        "rush": lambda record: record.customer_class == "rush",
        "plain": lambda record: record.customer_class == "plain",
    }
    expect_same(
        lambda seed: replicate(
            text, lambda seen: summarise_ours(seen, "rush") | summarise_ours(seen, "plain"), 42, seed
        ),
        lambda seed: run_theirs(network, is_of, 40, seed),
        ["rush", "plain"],
        {"rush: gap": 1 / 0.6, "plain: gap": 1 / 0.6, "rush: service": 0.8, "plain: service": 1.0},
    )
