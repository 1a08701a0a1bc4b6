"""It holds that shared luck can be spread evenly over replications: each by itself as ever, together closer to the truth."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from shopsim import load_scenario
from shopsim.answers import compare_batch_sizes, find_holdups
from shopsim.engine.luck import draw_luck, draw_scores
from shopsim.engine.plan import build_plan
from shopsim.engine.quasi_random import QuasiRandomFactors
from shopsim.errors import InputError
from shopsim.scenario import Scenario
from shopsim.study import blocked_interval, extend_study, mean_interval, open_study, run_study

DAY = "makespan_days"
BLOCK = 32


@pytest.fixture
def scenario(trays: Path) -> Scenario:
    return load_scenario(trays)


def scores(scenario: Scenario, replications: int, block: int = BLOCK, seed: int = 1) -> np.ndarray:
    plan = build_plan(scenario).luck
    even = QuasiRandomFactors(plan, block)
    found = [even.scores(seed, number) for number in range(replications)]
    return np.array([[one.bias, one.pace, *one.errors] for one in found])


def test_in_a_block_every_slice_of_every_dimension_is_hit_once(scenario: Scenario) -> None:
    u = stats.norm.cdf(scores(scenario, 3 * BLOCK))
    for block in np.split(u, 3):
        slices = np.floor(block * BLOCK).astype(int)
        assert (np.sort(slices, axis=0) == np.arange(BLOCK)[:, None]).all()


def test_a_replication_by_itself_has_the_law_it_always_has(scenario: Scenario) -> None:
    first_of_blocks = scores(scenario, 400 * 4, block=4)[::4]  # one of each block: independent of one another
    for column in first_of_blocks.T:
        assert stats.kstest(column, "norm").pvalue > 1e-4
    pairs = np.corrcoef(first_of_blocks.T) - np.eye(first_of_blocks.shape[1])
    assert np.abs(pairs).max() < 4 / np.sqrt(400)


def test_it_depends_on_seed_and_number_alone_and_the_rest_of_the_luck_stays(scenario: Scenario) -> None:
    plan = build_plan(scenario).luck
    again = QuasiRandomFactors(plan, BLOCK)
    assert np.array_equal(scores(scenario, 40)[37], [v for part in again.scores(1, 37) for v in np.atleast_1d(part)])
    assert not np.allclose(scores(scenario, 4), scores(scenario, 4, seed=2))
    own = draw_luck(plan, 1, 5, draw_scores(plan, 1, 5))
    assert own.work == draw_luck(plan, 1, 5).work
    even = draw_luck(plan, 1, 5, again.scores(1, 5))
    assert even.work != own.work
    assert (even.in_clamps, even.cure, even.material_at) == (own.in_clamps, own.cure, own.material_at)


def test_a_study_in_even_blocks_is_the_same_kept_and_extended(scenario: Scenario, tmp_path: Path) -> None:
    whole = run_study({"now": scenario}, replications=24, seed=3, sobol_block=8)
    assert whole.sobol_block == 8
    other = extend_study(run_study({"now": scenario}, replications=10, seed=3, sobol_block=8), 24)
    assert np.array_equal(other.outcomes["now"].measured, whole.outcomes["now"].measured)
    whole.save(tmp_path / "even.study")
    opened = open_study(tmp_path / "even.study")
    assert opened.sobol_block == 8
    assert np.array_equal(extend_study(opened, 30).values("now", DAY)[:24], whole.values("now", DAY))
    plain = run_study({"now": scenario}, replications=24, seed=3)
    assert not np.array_equal(plain.values("now", DAY), whole.values("now", DAY))
    with pytest.raises(InputError, match="even blocks of 8 and 0"):
        whole.join(plain)


def test_answers_go_on_in_the_blocks_of_the_study_they_are_given(scenario: Scenario) -> None:
    held = run_study({"it": scenario}, replications=8, seed=3, sobol_block=8)
    answer = compare_batch_sizes(scenario, (1, 2), replications=16, reuse=held)
    assert answer.study is not None
    assert answer.study.sobol_block == 8
    whole = run_study({"now": scenario}, replications=16, seed=3, sobol_block=8)
    assert np.array_equal(answer.study.values("now", DAY), whole.values("now", DAY))
    found = find_holdups(scenario, replications=16, reuse=held, accounted=16)
    elapsed = found.tables["where_the_time_of_the_run_goes"]["days"].sum()
    assert elapsed == pytest.approx(whole.values("now", DAY).mean(), abs=1e-9)


def test_the_interval_from_blocks_holds_the_truth_as_often_as_it_says() -> None:
    rng = np.random.default_rng(2)
    hits = {"mean": 0, "p80": 0}
    for _ in range(400):
        u = (rng.permuted(np.tile(np.arange(64), (10, 1)), axis=1) + rng.random((10, 64))) / 64  # even in each block
        sample = stats.norm.ppf(u).ravel()
        mean, p80 = blocked_interval(sample, 64), blocked_interval(sample, 64, 0.8)
        hits["mean"] += mean.low <= 0 <= mean.high
        hits["p80"] += p80.low - 0.03 <= stats.norm.ppf(0.8) <= p80.high  # blocks lean to the safe side
        assert mean.half_width < 0.5 * mean_interval(sample).half_width
    assert hits["mean"] >= stats.binom.ppf(1e-4, 400, 0.95)
    assert hits["p80"] >= stats.binom.ppf(1e-4, 400, 0.95)


def test_what_is_no_block_is_refused(scenario: Scenario) -> None:
    for block in (1, 3, -2, True, 2**20):
        with pytest.raises(InputError, match="power of two"):
            run_study({"now": scenario}, replications=2, sobol_block=block)
    with pytest.raises(InputError, match="at least two blocks"):
        blocked_interval(np.ones(100), 64)
