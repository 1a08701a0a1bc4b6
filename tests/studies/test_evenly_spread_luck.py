"""It holds that luck spread evenly over a block of replications tells more than independent draws do."""

from __future__ import annotations

import numpy as np
import pytest

from shopsim import load_scenario
from shopsim.study import run_study


@pytest.mark.slow
def test_means_and_quantiles_come_out_with_fewer_replications() -> None:
    trays = load_scenario("scenarios/serving-trays.toml")
    blocks = 48
    plain, even = (
        run_study({"now": trays}, replications=blocks * 64, seed=9, sobol_block=size)
        .values("now", "hands_on_h_a_piece")
        .reshape(blocks, 64)
        for size in (0, 64)
    )
    assert abs(plain.mean() - even.mean()) < 4 * plain.std() / np.sqrt(plain.size)
    gain = plain.mean(axis=1).var(ddof=1) / even.mean(axis=1).var(ddof=1)
    rank = int(np.ceil(65 * 0.8)) - 1
    p80 = [np.sort(values, axis=1)[:, rank].var(ddof=1) for values in (plain, even)]
    # the F ratio of 47 and 47 degrees of freedom is above 2.8 by luck alone once in 5,000 times
    assert gain > 2.8
    assert p80[0] / p80[1] > 1.5
