"""The benchmarks do the work that they time, all of it, and notice when less is done. Nothing here is timed."""

from __future__ import annotations

from pathlib import Path

import bench_growth
import bench_pairing
import bench_processes
import numpy as np
import pytest
from timing_blocks import resample_ratio, time_by_turns

from shopsim import load_scenario, run_once
from shopsim.scenario import change_scenario

EXAMPLES = Path(__file__).parents[2] / "scenarios"


def test_every_kind_of_work_has_its_turn_in_every_round() -> None:
    done: list[tuple[str, int]] = []
    runs = [lambda number, name=name: done.append((name, number)) for name in ("one", "other")]
    ticks = iter(range(1000))
    seconds = time_by_turns(runs, rounds=4, block_s=0.0, clock=lambda: float(next(ticks)))
    assert seconds.tolist() == [[1.0, 1.0]] * 4  # two readings of the clock, one run
    timed = done[-8:]
    assert [name for name, _ in timed] == ["one", "other", "other", "one"] * 2
    assert [number for _, number in timed] == [0, 0, 1, 1, 2, 2, 3, 3]


def test_a_ratio_of_blocks_has_an_interval_that_holds_it_and_is_sure_where_blocks_agree() -> None:
    slow, fast = np.array([2.0, 2.2, 1.8, 2.1, 1.9]), np.array([1.0, 1.05, 1.0, 0.95, 1.0])
    ratio, low, high = resample_ratio(slow, fast)
    assert ratio == pytest.approx(2.0)
    assert 1.8 < low < ratio < high < 2.2
    assert resample_ratio(slow, slow / 3) == pytest.approx((3.0, 3.0, 3.0))


@pytest.mark.parametrize("compiled", [False, True])
def test_growth_counts_the_tasks_of_every_run(compiled: bool) -> None:
    growth = bench_growth.measure_growth((5, 20), rounds=2, block_s=0.0, compiled=compiled)
    assert growth.tasks == {5: 207, 20: 825}
    assert growth.tasks[20] == len(run_once(bench_growth.make_stools(20)).record.done)
    assert min(growth.runs.values()) >= 4  # once unmeasured, once to see how long it takes, then a block a round
    assert growth.task_seconds().shape == (2, 2)
    assert (growth.seconds > 0).all()


def test_growth_fails_where_fewer_tasks_are_done(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bench_growth, "TASKS_A_PIECE", 42)
    with pytest.raises(AssertionError, match="207 tasks were finished of 212"):
        bench_growth.measure_growth((5,), rounds=1, block_s=0.0)


@pytest.mark.slow
def test_one_process_and_two_do_the_same_work() -> None:
    trays = load_scenario(EXAMPLES / "serving-trays.toml")
    shared = bench_processes.measure_processes(trays, replications=20, rounds=1)
    assert shared.studies == [3, 3, 3]
    assert shared.tasks == 20 * 40
    assert (shared.seconds > 0).all()


def test_pairing_tells_what_shared_luck_is_worth_and_what_no_sharing_can_pass() -> None:
    trays = next(pair for pair in bench_pairing.PAIRS if pair.example == bench_pairing.TRAYS)
    runs = bench_pairing.Runs("average_ship_day", 40)
    found = bench_pairing.measure_worth(trays, runs)
    assert found.runs == 4 * 40
    assert 1 < found.low < found.ratio < found.high
    scenario = change_scenario(load_scenario(EXAMPLES / "serving-trays.toml"), {"run.batch": 2})
    own, anew = runs.values(scenario)
    assert np.mean(own != anew) > 0  # single units have other luck
    assert np.corrcoef(own, anew)[0, 1] > 0.7  # and everything else is shared
    same = bench_pairing.measure_worth(bench_pairing.Pair(bench_pairing.TRAYS, "nothing", {}, {}), runs)
    assert same.ratio == np.inf


def test_every_pair_of_the_pairing_benchmark_can_be_run() -> None:
    for pair in bench_pairing.PAIRS:
        scenario = load_scenario(EXAMPLES / f"{pair.example}.toml")
        one, other = (change_scenario(scenario, changes) for changes in (pair.one, pair.other))
        assert one != other
        assert one.run.orders == other.run.orders
