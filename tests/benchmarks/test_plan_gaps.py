"""The benchmark of the search for a plan: its shops are what their names say, and a search is held to bound and rules."""

from __future__ import annotations

import bench_plans
import pytest
from plan_shops import SHOPS, PlanShop, build_plan_shop

from shopsim.engine.compiling import load_now
from shopsim.engine.plan import build_plan


@pytest.mark.parametrize("shop", SHOPS, ids=lambda shop: shop.name)
def test_a_shop_has_the_tasks_of_its_name(shop: PlanShop) -> None:
    plan = build_plan(build_plan_shop(shop))
    assert plan.task_step.size == shop.pieces * shop.operations == int(shop.name.split("-")[1])
    assert plan.clamp_count.tolist() == [shop.short, shop.long]


def test_a_small_shop_is_searched_down_to_its_bound(monkeypatch: pytest.MonkeyPatch) -> None:
    load_now()
    monkeypatch.setattr("shopsim.study.plan_search.TASKS_A_SECOND", 4_000)
    gaps = bench_plans.measure_gaps(SHOPS[0], [1, 2], 60.0)
    assert gaps.stopped == 0
    assert (gaps.ends_min <= gaps.best_rule_min).all()
    assert (gaps.shares < 0.01).all()
    line = bench_plans.say(gaps)
    assert line.startswith("| trays-24 | 24 | ")
    assert line.endswith(f"| {int(sorted(gaps.tried)[0] + sorted(gaps.tried)[1]) // 2:,} | {gaps.seconds.mean():.1f} |")


def test_a_search_that_looks_at_next_to_nothing_is_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bench_plans, "LEAST_TRIED", 10**9)
    monkeypatch.setattr("shopsim.study.plan_search.TASKS_A_SECOND", 100)
    with pytest.raises(AssertionError, match="too few orders were looked at"):
        bench_plans.measure_gaps(SHOPS[0], [1], 60.0)
