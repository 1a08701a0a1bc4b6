"""The plain model does the same work as the engine, so that comparing their speed is fair."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from plain_model import PlainShop

from shopsim import load_scenario, run_once
from shopsim.scenario import Scenario, parse_scenario

SCENARIOS = Path(__file__).parents[2] / "scenarios"

SHOP = """
[shop]
open = { mon-fri = "08:00-12:00, 13:00-17:00" }
closed = ["2027-01-14"]
stations = [{ name = "saw" }, { name = "planer" }, { name = "bench" }]
clamps = [{ name = "bar clamp", reach = "24 in", count = 200 }]
"""

#: All by one worker, nothing scarce but hands, and always something to do: cut, glue, plane; 12 pieces.
AMPLE = (
    SHOP
    + """
[design]
name = "tray"
parts = { "side" = 4 }
operations = [
  { name = "cut", per = "side", station = "saw", setup = "10 min", work = "7 min" },
  { name = "glue", station = "bench", work = "20 min", pausable = true, in_clamps = "30 min",
    clamps = [{ count = 4, reach = "20 in" }] },
  { name = "plane", station = "planer", setup = "5 min", work = "15 min" },
]

[run]
orders = 12
batch = 12
start = 2027-01-11
""".replace(",\n    clamps", ", clamps")
)

#: The same at no station, with clamps to take off and a night of curing before planing.
WITH_CURE = (
    AMPLE.replace('station = "saw", setup = "10 min", ', "")
    .replace('station = "bench", ', "")
    .replace('station = "planer", setup = "5 min", ', "")
    .replace('in_clamps = "30 min"', 'in_clamps = "30 min", unclamp = "2 min", cure = "14 h"')
)

#: Nothing waits for anything but the worker: every piece, not only the last, comes out alike.
IN_A_ROW = (
    SHOP
    + """
[design]
name = "tray"
operations = [
  { name = "cut", work = "25 min" },
  { name = "sand", work = "15 min" },
]

[shipping]
packing = "5 min"

[run]
orders = 30
batch = 1
pieces_open = 1
start = 2027-01-11
"""
)


def finish_by_engine(scenario: Scenario) -> np.ndarray:
    """Minutes from midnight of the first day at which every piece is done."""
    done = run_once(scenario, likely=True).pieces.sort_values("piece").done
    return ((done - np.datetime64(scenario.day0)) / np.timedelta64(1, "m")).to_numpy()


def test_twelve_trays_that_keep_one_worker_busy_take_771_minutes() -> None:
    # Set-up 10 + 5 min; cutting 12 x 4 x 7 = 336, gluing 12 x 20 = 240, planing 12 x 15 = 180: 771 min. Monday takes
    # 480; of the other 291 Tuesday 8-12 takes 240, and 51 are left after lunch: Tuesday at 13:51.
    scenario = parse_scenario(AMPLE)
    assert PlainShop(scenario).run().max() == 1440 + 13 * 60 + 51
    assert finish_by_engine(scenario).max() == 1440 + 13 * 60 + 51


@pytest.mark.parametrize("text", [AMPLE, WITH_CURE, IN_A_ROW], ids=["ample", "with a cure", "in a row"])
def test_where_only_hands_are_scarce_the_last_piece_is_finished_at_the_same_minute(text: str) -> None:
    scenario = parse_scenario(text)
    plain, engine = PlainShop(scenario).run(), finish_by_engine(scenario)
    assert plain.max() == engine.max()


def test_where_pieces_follow_each_other_every_piece_is_finished_at_the_same_minute() -> None:
    scenario = parse_scenario(IN_A_ROW)
    np.testing.assert_array_equal(PlainShop(scenario).run(), finish_by_engine(scenario))
    # 45 min a piece, 480 a day, the 14th closed: 30 pieces are 1350 min: Monday and Tuesday 960, Wednesday 390,
    # of which 240 before lunch: Wednesday at 15:30.
    assert PlainShop(scenario).run().max() == 2 * 1440 + 15.5 * 60


#: Cut by anybody, sanded by whoever is there: people come and go, and leave their work to each other.
RELAY = """
[shop]
open = { mon-fri = "08:00-12:00, 13:00-17:00" }
interrupted = "20 %"
workers = [WORKERS]

[design]
name = "tray"
operations = [
  { name = "cut", work = "170 min" },
  { name = "sand", work = "95 min" },
]

[run]
orders = 9
batch = 1
pieces_open = 1
start = 2027-01-11
"""


@pytest.mark.parametrize(
    "workers",
    [
        '{ name = "maker", open = { mon-fri = "08:00-11:00" } }, { name = "helper", open = { mon-fri = "11:00-17:00" } }',
        '{ name = "maker" }, { name = "helper", open = { tue = "09:00-10:30", thu = "15:00-16:10" }, can = ["sand"] }',
        '{ name = "maker", closed = ["2027-01-13"] }, { name = "helper", open = { wed = "08:00-10:00" } }',
        '{ name = "maker", can = ["cut"] }, { name = "helper", open = { mon = "08:00-12:00", fri = "13:00-15:00" } }',
    ],
)
def test_where_people_leave_their_work_to_each_other_every_piece_is_finished_at_the_same_minute(workers: str) -> None:
    scenario = parse_scenario(RELAY.replace("WORKERS", workers))
    np.testing.assert_allclose(PlainShop(scenario).run(), finish_by_engine(scenario), atol=1 / 60)


@pytest.mark.parametrize("name", ["serving-trays", "counter-stools", "wall-cabinets"])
def test_on_the_examples_both_finish_the_same_tasks_with_the_same_minutes_of_work(name: str) -> None:
    scenario = load_scenario(SCENARIOS / f"{name}.toml")
    plain = PlainShop(scenario)
    plain.run()
    tasks = run_once(scenario, likely=True).tasks
    hands_on = tasks[tasks.operation != "stand before packing"]
    assert plain.n_finished == len(plain.tasks) == len(hands_on)
    assert plain.work_min == pytest.approx(hands_on.work_min.sum(), rel=1e-6)


def test_a_drawn_run_repeats_with_its_seed_and_differs_with_another() -> None:
    plain = PlainShop(load_scenario(SCENARIOS / "counter-stools.toml"))
    first, again, other = (plain.run(np.random.default_rng(seed)) for seed in (1, 1, 2))
    np.testing.assert_array_equal(first, again)
    assert (first != other).all()
