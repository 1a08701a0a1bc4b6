"""Works out batch size, clamps and delivery window for people who make furniture in small batches.

The public names; nothing is computed here. ``shopsim.scenario`` reads and checks files,
``run_once`` runs the shop once, ``run_study`` many times, and ``shopsim.answers`` turns
runs into answers.
"""

from shopsim.answers import Answer, compare_batch_sizes, compare_clamps, decide, forecast_delivery
from shopsim.engine.work_order import Waiting
from shopsim.errors import (
    BrokenRecord,
    Cancelled,
    Fault,
    InputError,
    RunError,
    ScenarioError,
    ShopSimError,
    StalledShop,
)
from shopsim.laws import Law, own_law
from shopsim.scenario import (
    Scenario,
    change_scenario,
    dump_scenario,
    load_scenario,
    parse_scenario,
    read_scenario,
    save_scenario,
    scenario_schema,
)
from shopsim.study import Study, run_study
from shopsim.study.once import Run, run_once

__version__ = "0.1.0"

__all__ = [
    "Answer",
    "BrokenRecord",
    "Cancelled",
    "Fault",
    "InputError",
    "Law",
    "Run",
    "RunError",
    "Scenario",
    "ScenarioError",
    "ShopSimError",
    "StalledShop",
    "Study",
    "Waiting",
    "change_scenario",
    "compare_batch_sizes",
    "compare_clamps",
    "decide",
    "dump_scenario",
    "forecast_delivery",
    "load_scenario",
    "own_law",
    "parse_scenario",
    "read_scenario",
    "run_once",
    "run_study",
    "save_scenario",
    "scenario_schema",
]
