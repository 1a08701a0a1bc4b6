"""It holds that hours of use and spans of work are those of schedules worked out by hand, and sum to the whole."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import pytest

from shopsim import RunResult, run_once
from shopsim.engine.plan import build_plan
from shopsim.scenario import load_scenario
from shopsim.study.measures import Measurer
from shopsim.study.positions import measure_positions
from shopsim.study.runner import run_study
from shopsim.study.spans import SPAN_COLUMNS, list_closed, list_spans
from shopsim.study.use import USE_COLUMNS, measure_use

SHOP = """
[[shop.stations]]
name = "bench"
[[shop.racks]]
name = "shelf"
spots = 2
[[shop.clamps]]
name = "band clamp"
count = 2
"""
# Mon 08:00 set-up 30 min, work 1 h 30 (done 10:00); glue 10:00-11:00 in one clamp until Tue 11:00 (24 h), then 30 min
# to take it off (11:30). The run ends on Tue 11:30, after 35.5 h, of which the shop (08:00-16:00) was open for 11.5.
GLUE = """
  { name = "cut", station = "bench", setup = "30 min", work = "90 min" },
  { name = "glue", station = "bench", work = "1 h", clamps = [{ kind = "band clamp", count = 1 }], in_clamps = "24 h", \
unclamp = "30 min", rest = "shelf" },
"""


def hours(run: RunResult, kind: str, name: str, column: str = "hours") -> dict[str, float]:
    use = measure_use(run)
    mine = use[(use["kind"] == kind) & (use["name"] == name)]
    return {state: round(value, 6) for state, value in zip(mine["state"], mine[column], strict=True)}


def test_a_worker_works_sets_up_takes_clamps_off_idles_and_goes_home(run_shop: Callable[..., RunResult]) -> None:
    run = run_shop(GLUE, shop=SHOP)
    assert hours(run, "worker", "maker") == {
        "working": 2.5, "set-up": 0.5, "taking clamps off": 0.5, "idle": 8.0, "away": 24.0,
    }  # fmt: skip
    assert hours(run, "worker", "maker", "open_hours") == {
        "working": 2.5, "set-up": 0.5, "taking clamps off": 0.5, "idle": 8.0, "away": 0.0,
    }  # fmt: skip


def test_a_station_is_free_while_what_was_glued_there_cures_elsewhere(run_shop: Callable[..., RunResult]) -> None:
    run = run_shop(GLUE, shop=SHOP)
    assert hours(run, "station", "bench") == {"working": 3.0, "held while curing": 0.0, "idle": 8.5, "closed": 24.0}


def test_clamps_are_held_overnight_until_somebody_takes_them_off(run_shop: Callable[..., RunResult]) -> None:
    run = run_shop(GLUE, shop=SHOP)
    # two clamps are 71 h: one is worked with for 1.5 h and held for 24, the other is idle for 11.5 and closed for 24;
    # the first is idle from 8 to 10 on Monday
    assert hours(run, "clamp", "band clamp") == {
        "working": 1.5, "held while curing": 24.0, "idle": 13.5, "closed": 32.0,
    }  # fmt: skip
    assert hours(run, "clamp", "band clamp", "open_hours") == {
        "working": 1.5, "held while curing": 8.0, "idle": 13.5, "closed": 0.0,
    }  # fmt: skip


def test_a_station_that_is_kept_is_held_while_curing(run_shop: Callable[..., RunResult]) -> None:
    run = run_shop('{ name = "glue", station = "bench", work = "1 h", cure = "30 h", stays = true },', shop=SHOP)
    # Mon 08:00-09:00 by hand, cured on Tue 15:00; free only before Mon 08:00
    assert hours(run, "station", "bench") == {"working": 1.0, "held while curing": 30.0, "idle": 0.0, "closed": 8.0}


def test_work_left_half_done_is_closed_overnight(run_shop: Callable[..., RunResult]) -> None:
    run = run_shop('{ name = "carve", station = "bench", work = "10 h" },', shop=SHOP)
    # Mon 08:00-16:00 and Tue 08:00-10:00; closed from midnight to 08:00 and for the night of 16 h
    assert hours(run, "station", "bench") == {"working": 10.0, "held while curing": 0.0, "idle": 0.0, "closed": 24.0}


def test_half_done_work_that_keeps_a_station_while_the_shop_is_open_is_told(run_shop: Callable[..., RunResult]) -> None:
    shop = SHOP + '[[shop.workers]]\nname = "helper"\nopen = { mon-fri = "08:00-12:00" }\n'
    run = run_shop('{ name = "carve", station = "bench", work = "6 h" },', shop=shop)
    # Mon 08:00-12:00 and Tue 08:00-10:00; from 12 to 16 on Monday the shop is open and the bench kept
    assert hours(run, "station", "bench") == {
        "working": 6.0, "held while curing": 0.0, "idle": 0.0, "held half done": 4.0, "closed": 24.0,
    }  # fmt: skip
    assert hours(run, "worker", "helper") == {
        "working": 6.0, "set-up": 0.0, "taking clamps off": 0.0, "idle": 0.0, "away": 28.0,
    }  # fmt: skip


@pytest.mark.parametrize("name", ["counter-stools", "serving-trays", "wall-cabinets"])
@pytest.mark.parametrize("replication", range(3))
def test_states_sum_to_the_whole_and_idle_hands_are_those_that_are_measured(name: str, replication: int) -> None:
    scenario = load_scenario(f"scenarios/{name}.toml")
    run = run_once(scenario, seed=5, replication=replication)
    use = measure_use(run)
    assert list(use.columns) == list(USE_COLUMNS)
    whole = float(run.record.done.max()) / 60
    counts = {("worker", worker.name): 1 for worker in scenario.shop.workers}
    counts |= {("station", station.name): station.count for station in scenario.shop.stations}
    counts |= {("clamp", kind.name): kind.count for kind in scenario.shop.clamps}
    counts |= {("rack", rack.name): rack.spots for rack in scenario.shop.racks}
    totals = use.groupby(["kind", "name"])[["hours", "share", "open_hours", "open_share"]].sum()
    assert set(totals.index) == set(counts)
    opened = sum(end - start for start, end, _ in run.history.shop_hours.pieces(0.0, whole * 60)) / 60
    for key, row in totals.iterrows():
        assert row["hours"] == pytest.approx(counts[key] * whole)
        assert row["open_hours"] == pytest.approx(counts[key] * opened)
        assert row["share"] == pytest.approx(1.0)
        assert row["open_share"] == pytest.approx(1.0)
    assert (use["hours"] >= 0).all()
    plan = build_plan(scenario)
    measured = Measurer(plan).measure(run.draws, run.record).rows[0, 7]
    assert use[(use["kind"] == "worker") & (use["state"] == "idle")]["hours"].sum() == pytest.approx(measured, abs=1e-6)
    for row in run.use.assign(h=lambda table: (table["until"] - table["since"]) / np.timedelta64(1, "h")).groupby(
        ["kind", "name"]
    ):
        (kind, thing), levels = row
        if kind != "worker":
            kept = float((levels["in_use"] * levels["h"]).sum())
            mine = use[
                (use["kind"] == kind) & (use["name"] == thing) & use["state"].isin(["working", "held while curing"])
            ]
            assert mine["hours"].sum() <= kept + 0.01


def test_spans_are_the_stretches_of_each_task(run_shop: Callable[..., RunResult]) -> None:
    run = run_shop(GLUE, shop=SHOP)
    spans = list_spans(run)
    said = [
        f"{row.operation}: {row.state} {row.since:%a %H:%M}-{row.until:%a %H:%M} {row.worker}/{row.station}"
        for row in spans.itertuples()
    ]
    assert said == [
        "cut: hands-on Mon 08:00-Mon 10:00 maker/bench",
        "glue: hands-on Mon 10:00-Mon 11:00 maker/bench",
        "glue: in clamps Mon 11:00-Tue 11:00 /",
        "glue: taking clamps off Tue 11:00-Tue 11:30 maker/",
    ]
    assert {name: str(dtype) for name, dtype in spans.dtypes.items()} == {
        name: str(pd.Series([], dtype=kind).dtype)
        for name, kind in SPAN_COLUMNS.items()  # text as this pandas holds it
    }


def test_hands_on_spans_stop_at_closing_and_go_on(run_shop: Callable[..., RunResult]) -> None:
    spans = list_spans(run_shop('{ name = "carve", work = "10 h" },'))
    assert [f"{row.since:%a %H:%M}-{row.until:%a %H:%M}" for row in spans.itertuples()] == [
        "Mon 08:00-Mon 16:00",
        "Tue 08:00-Tue 10:00",
    ]


def test_work_that_needs_nobody_and_what_cures_longer_than_it_is_clamped_are_told(
    run_shop: Callable[..., RunResult],
) -> None:
    operations = """
      { name = "soak", hands = 0, work = "2 h" },
      { name = "glue", work = "1 h", clamps = [{ kind = "band clamp", count = 1 }], in_clamps = "2 h", cure = "5 h" },
    """
    spans = list_spans(run_shop(operations, shop=SHOP))
    said = [f"{row.state} {row.since:%a %H:%M}-{row.until:%a %H:%M}" for row in spans.itertuples()]
    assert said == [
        "nobody needed Mon 00:00-Mon 02:00",
        "hands-on Mon 08:00-Mon 09:00",
        "in clamps Mon 09:00-Mon 11:00",
        "curing Mon 11:00-Mon 14:00",
    ]


def test_closed_times_are_nights_days_off_and_nothing_else(run_shop: Callable[..., RunResult]) -> None:
    run = run_shop('{ name = "carve", work = "10 h" },', open='{ mon-fri = "08:00-12:00, 13:00-16:00" }')
    closed = list_closed(run)
    assert [f"{row.since:%a %H:%M}-{row.until:%a %H:%M}" for row in closed.itertuples()] == [
        "Mon 00:00-Mon 08:00",
        "Mon 12:00-Mon 13:00",
        "Mon 16:00-Tue 08:00",
    ]


def test_a_shop_that_never_closes_has_no_closed_times(run_shop: Callable[..., RunResult]) -> None:
    assert list_closed(run_shop('{ name = "carve", work = "30 h" },', open='"always"')).empty


def test_lead_times_by_position_are_order_statistics_of_the_study() -> None:
    scenario = load_scenario("scenarios/serving-trays.toml")
    study = run_study({"now": scenario}, replications=19, seed=3)
    table = measure_positions(study, {"now": "batches of 5"})
    days: Any = np.sort(study.order_days["now"] - study.outcomes["now"].queue.since_days, axis=0)
    assert list(table["position"]) == list(range(1, days.shape[1] + 1))
    # ranks of 20: 2, 10 and 18
    for column, rank in (("lead_days_p10", 2), ("lead_days_p50", 10), ("lead_days_p90", 18)):
        assert list(table[column]) == [float(value) for value in days[rank - 1]]
    assert list(table["lead_days"]) == pytest.approx(list(days.mean(axis=0)))
    assert measure_positions(study, {}).empty
    assert table["batch"].dtype == pd.Series([], dtype="str").dtype
