"""Laws of lines, batches and breakdowns, after a textbook: W. Hopp & M. Spearman, Factory Physics, chapters 7 to 9.

A line with W jobs in it is a run of batches of one of which W may be open: when one is done the next comes in. Stations
need nobody.
"""

from __future__ import annotations

import numpy as np
import pytest

from shopsim import change_scenario, own_law, parse_scenario, run_once

from .many_runs import (
    HOUR,
    Moments,
    Sample,
    Seen,
    batch_done,
    control_queue,
    erlang_moments,
    expect_means,
    exponential,
    known_of_queue,
    replicate,
    replicate_orders,
    write_always_open,
    write_orders,
)

#: Hours and machines of each station: four alike (the first penny example), four that are not (the second).
ALIKE = ((2, 1), (2, 1), (2, 1), (2, 1))
UNLIKE = ((2, 1), (5, 2), (10, 6), (3, 2))
Line = tuple[tuple[int, int], ...]


def write_line(line: Line, run: str, law: str = '"{hours} h"', more: str = "") -> str:
    operations = "".join(
        f'{{ name = "{k}", station = "{k}", hands = 0, work = {law.format(hours=hours)}{more} }},\n'
        for k, (hours, _) in enumerate(line, start=1)
    )
    stations = ", ".join(f'{{ name = "{k}", count = {count} }}' for k, (_, count) in enumerate(line, start=1))
    return write_always_open(operations, shop=f"stations = [{stations}]", run=run)


def run_steady_line(line: Line, jobs: int) -> tuple[float, float]:
    """(jobs an hour, hours a job) of a line without luck, over 240 hours after the first 240."""
    run = run_once(parse_scenario(write_line(line, f"orders = 400\nbatch = 1\npieces_open = {jobs}")))
    done = batch_done(run) / HOUR
    inside = (done > 240) & (done <= 480)
    return inside.sum() / 240, float((done - run.record.batch_opened / HOUR)[inside].mean())


@pytest.mark.parametrize(("line", "rate", "raw_hours"), [(ALIKE, 0.5, 8), (UNLIKE, 0.4, 20)])
def test_a_line_has_its_bottleneck_rate_and_its_raw_time(line: Line, rate: float, raw_hours: float) -> None:
    # rb .5 an hour, T0 8 h (its first penny example, seen in
    # outline) and .4, 20 h (its second, printed on lecture slides, source not kept); so W0 = rb T0 = 4 and 8.
    assert run_steady_line(line, 1) == (1 / raw_hours, raw_hours)
    assert run_steady_line(line, 50)[0] == rate
    critical = int(rate * raw_hours)
    assert run_steady_line(line, critical) == (rate, raw_hours)


@pytest.mark.parametrize(
    ("line", "jobs", "rate", "hours"),
    [
        (ALIKE, 1, 0.125, 8), (ALIKE, 2, 0.25, 8), (ALIKE, 4, 0.5, 8), (ALIKE, 8, 0.5, 16),
        (UNLIKE, 4, 0.2, 20), (UNLIKE, 8, 0.4, 20), (UNLIKE, 12, 0.4, 30),
    ],
)  # fmt: skip
def test_a_line_without_luck_is_the_best_case(line: Line, jobs: int, rate: float, hours: float) -> None:
    # Best case (from memory): W / T0 up to rb, in max(T0, W / rb) hours.
    assert run_steady_line(line, jobs) == (rate, hours)


def test_four_jobs_that_move_as_one_are_the_worst_case() -> None:
    # Worst case (from memory): 1 / T0 = .125 an hour, W T0 = 32 hours each.
    text = write_line(ALIKE, "orders = 400\nbatch = 4\npieces_open = 4", more=', handful = "batch"')
    run = run_once(parse_scenario(text))
    done = batch_done(run) / HOUR
    hours = done - run.record.batch_opened / HOUR
    assert set(hours) == {32.0}
    assert 4 * (len(hours) - 1) / (done[-1] - done[0]) == 0.125


def run_random_line(line: Line, jobs: int, seed: int) -> Sample:
    """Jobs an hour and hours a job, with exponential times, after the first 300 and until the last one comes in."""

    def measure(seen: Seen) -> dict[str, float]:
        opened, done = seen.record.batch_opened / HOUR, batch_done(seen) / HOUR
        since, until = opened[300], opened[-1]
        return {
            "rate": ((done > since) & (done <= until)).sum() / (until - since),
            "stay": (done - opened)[300:-jobs].mean(),
        }

    law = '{{ law = "exponential", mean = "{hours} h" }}'
    text = write_line(line, f"orders = 1000\nbatch = 1\npieces_open = {jobs}", law)
    return replicate(text, measure, 24, seed)


@pytest.mark.parametrize(
    ("jobs", "rate", "hours"),
    [(1, 0.125, 8), (2, 0.2, 10), (4, 0.285714, 14), (8, 0.363636, 22), (12, 0.4, 30), (20, 0.434783, 46)],
)
def test_a_balanced_line_with_exponential_times_is_the_practical_worst_case(
    jobs: int, rate: float, hours: float
) -> None:
    # Practical worst case (from memory; the same by mean value analysis): W rb / (W0 + W - 1), T0 + (W - 1) / rb.
    expect_means(lambda seed: run_random_line(ALIKE, jobs, seed), {"rate": rate, "stay": hours})


@pytest.mark.parametrize(("jobs", "rate"), [(4, 0.188183), (8, 0.310219), (12, 0.363227)])
def test_an_unbalanced_line_with_exponential_times_has_the_rate_of_its_closed_network(jobs: int, rate: float) -> None:
    # Gordon & Newell 1967, Operations Research 15:254-265, by convolution; no printed value. The practical worst case
    # would say .1455, .2133, .2526: it holds only for balanced lines of single machines.
    expect_means(lambda seed: run_random_line(UNLIKE, jobs, seed), {"rate": rate})


def write_serial_batches(size: int, orders: str) -> str:
    """Batches that pay 5 hours of set-up and then take 1 hour a piece; there is no station, so each pays again."""
    return write_always_open(
        '{ name = "make", setup = "5 h", work = "1 h" },',
        run=f'orders = {orders}\nrelease = "{"as ordered" if orders.startswith(chr(34)) else "when orders close"}"\n'
        f'priority = "oldest batch"\nbatch = {size}',
    )


def test_a_batch_of_four_is_the_smallest_that_keeps_up_with_its_set_ups() -> None:
    # Serial batches (chapter 9; page on serial batching of the book's own site, seen): .4 pieces an hour, set-up 5 h, 1 h a piece: k > .4 x 5 / (1 - .4) = 3.33.
    pieces_an_hour = {}
    for size in range(1, 8):
        done = batch_done(run_once(parse_scenario(write_serial_batches(size, str(20 * size))))) / HOUR
        pieces_an_hour[size] = 19 * size / (done[-1] - done[0])
    assert pieces_an_hour[3] == 3 / 8
    assert pieces_an_hour[4] == 4 / 9
    assert min(size for size, rate in pieces_an_hour.items() if rate > 0.4) == 4


#: Gap between batches of four, and their 9 hours.
LAWS_OF_FOURS = erlang_moments(2.5).times(4), Moments(9.0, 0.0, 0.0)


def run_serial_batches(size: int, pieces: int, n: int, seed: int) -> Sample:
    """Hours from each order to the end of its piece, and to the end of its batch."""
    text = write_serial_batches(size, '"orders.csv"')

    def draw_shop(dice: np.random.Generator) -> tuple[str, dict[str, bytes]]:
        return text, {"orders.csv": write_orders(np.cumsum(dice.exponential(2.5 * HOUR, pieces // size * size)))}

    def measure(seen: Seen) -> dict[str, float]:
        work = seen.plan.worklist
        book = work.scenario.run.orders
        came = np.array([(order.date - work.day0).days * 24 + order.minute / HOUR for order in book.orders])
        opened, finished = seen.record.batch_opened / HOUR, batch_done(seen) / HOUR
        late = slice(480, None)
        found = {
            "whole": (np.repeat(finished, size) - came)[late].mean(),
            "one by one": (seen.times("make").done / HOUR - came)[late].mean(),
        }
        if size == 4:  # the only one that waits long
            found |= control_queue(opened, np.full(opened.size, 9.0), *LAWS_OF_FOURS)
        return found

    return replicate_orders(draw_shop, measure, n, seed)


@pytest.mark.parametrize(
    ("size", "whole", "one_by_one", "pieces", "n"),
    [
        pytest.param(4, 21.7497, 20.2497, 8400, 20, marks=pytest.mark.slow),
        (5, 17.8906, 15.8906, 3600, 20),
        (6, 18.6977, 16.1977, 2000, 20),
        (8, 22.2759, 18.7759, 2000, 20),
        (10, 26.4803, 21.9803, 2000, 20),
    ],
)
def test_the_time_of_an_order_made_in_batches_has_its_best_size(
    size: int, whole: float, one_by_one: float, pieces: int, n: int
) -> None:
    # Hopp & Spearman ch. 9, structure seen: (k - 1) / (2 ra) to gather + wait + set-up + k t, or (k + 1) t / 2 if
    # pieces leave one by one; the wait is exact here, because E_k/D/1 waits as M/D/k (no printed values). Kingman's
    # formula for the wait gives 22.875, 19.0, 19.7708, 23.2589, 27.375, so it is no target.
    expect_means(
        lambda seed: run_serial_batches(size, pieces, n, seed),
        {"whole": whole, "one by one": one_by_one},
        known=known_of_queue(*LAWS_OF_FOURS) if size == 4 else {},
    )


@pytest.mark.parametrize(("together", "minutes"), [(12, 60), (4, 44), (3, 42), (1, 38)])
def test_small_transfer_batches_shorten_a_lot(together: int, minutes: int) -> None:
    # Elementary: a lot of 12 over stations of 2 and 3 minutes, moved on b at a time: b (t1 + t2) + (12 / b - 1) b t2.
    text = write_always_open(
        """
        { name = "first", station = "first", hands = 0, work = "2 min" },
        { name = "second", station = "second", hands = 0, work = "3 min", wait_for = "batch" },
        """,
        shop='stations = [{ name = "first" }, { name = "second" }]',
        run=f"orders = 12\nbatch = {together}\npieces_open = 12",
    )
    assert run_once(parse_scenario(text)).record.done.max() == minutes


#: Running at rate 1 to the end, at rate 1/10 to a breakdown, mended at rate 1/2: the time at the machine has the
#: transform (s + 1/2) / (s^2 + 1.6 s + 1/2), so it is a mixture of two exponential laws with these rates and shares.
BREAKDOWN_RATES = np.array([0.8 - np.sqrt(0.14), 0.8 + np.sqrt(0.14)])
BREAKDOWN_SHARES = (0.5 - BREAKDOWN_RATES) / (1.6 - 2 * BREAKDOWN_RATES) / BREAKDOWN_RATES

#: Third central moment of that time, from its moments n! (shares / rates^n).
BREAKDOWN_THIRD = float(
    (BREAKDOWN_SHARES * (6 / BREAKDOWN_RATES**3 - 3 * 1.2 * 2 / BREAKDOWN_RATES**2)).sum() + 2 * 1.2**3
)


def take_with_breakdowns(u: np.ndarray) -> np.ndarray:
    """Minutes at the machine at uniform numbers: the mixture's quantile, by halving the interval."""
    low, high = np.zeros(u.shape), np.full(u.shape, 200.0)
    for _ in range(45):
        middle = (low + high) / 2
        short = 1 - (BREAKDOWN_SHARES * np.exp(-np.multiply.outer(middle, BREAKDOWN_RATES))).sum(axis=-1) < u
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    return np.asarray(high * HOUR)


@pytest.mark.slow
def test_orders_wait_for_a_machine_that_breaks_down_as_its_effective_time_says() -> None:
    # Hopp & Spearman ch. 8 (from memory): te = t0 / A, ce2 = c0^2 + (1 + cr^2) A (1 - A) mr / t0. Service 1 h, a
    # breakdown per 10 h of running, repair 2 h, all exponential: te 1.2 h, ce2 14/9. With .6 orders an hour Wq is
    # 3.942857 h, exact because orders come at random (Pollaczek 1930). A breakdown is nothing the language knows, so
    # the time at the machine is given as a law of one's own.
    mean = (BREAKDOWN_SHARES / BREAKDOWN_RATES).sum()
    assert mean == pytest.approx(1.2, rel=1e-6)
    assert 2 * (BREAKDOWN_SHARES / BREAKDOWN_RATES**2).sum() / mean**2 - 1 == pytest.approx(14 / 9, rel=1e-6)
    text = write_always_open(
        f"""
        {{ name = "come", station = "door", hands = 0, work = {exponential(100.0)} }},
        {{ name = "serve", work = "72 min" }},
        """,
        shop='stations = [{ name = "door" }]',
    )
    law = own_law(take_with_breakdowns, likely=72.0)
    scenario = change_scenario(parse_scenario(text), {'design.operations."serve".work': law})

    gap, service = erlang_moments(1 / 0.6), Moments(1.2, 14 / 9 * 1.2**2, BREAKDOWN_THIRD)

    def measure(seen: Seen) -> dict[str, float]:
        came, start, left, _ = (moments / HOUR for moments in seen.times("serve"))
        return {"Wq": (start - came)[1000:].mean(), **control_queue(came, left - start, gap, service)}

    expect_means(
        lambda seed: replicate(scenario, measure, 54, seed), {"Wq": 3.942857}, known=known_of_queue(gap, service)
    )
