"""Works out batch size, clamps and delivery window for people who make furniture in small batches.

The public names; nothing is computed here. ``shopsim.scenario`` reads and checks files,
``run_once`` runs the shop once, ``run_study`` many times, and ``shopsim.answers`` turns
runs into answers.
"""

from __future__ import annotations

from shopsim.version import VERSION

TYPE_CHECKING = False  # as typing has it, which takes longer to load than all that is here
if TYPE_CHECKING:
    from typing import Any

    from shopsim.answers import (
        Answer,
        compare_batch_sizes,
        compare_batches_by,
        compare_clamps,
        compare_ways,
        find_buying,
        find_days,
        find_holdups,
        find_reach,
        find_worth,
        forecast_delivery,
        forecast_from_now,
        write_words,
    )
    from shopsim.answers.decide import decide
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
    from shopsim.priority import Waiting
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
    from shopsim.study import Study, extend_study, open_study, run_study
    from shopsim.study.once import RunResult, run_once

#: Where each public name is at home. It is loaded when first asked for: so a command that is stopped while it
#: loads can say so, and a worker process loads only what it needs.
_HOMES = {
    "shopsim.answers": (
        "Answer", "compare_batch_sizes", "compare_batches_by", "compare_clamps", "compare_ways", "decide", "find_buying",
        "find_days", "find_holdups", "find_reach", "find_worth", "forecast_delivery", "forecast_from_now", "write_words",
    ),
    "shopsim.priority": ("Waiting",),
    "shopsim.errors": (
        "BrokenRecord", "Cancelled", "Fault", "InputError", "RunError", "ScenarioError", "ShopSimError", "StalledShop",
    ),
    "shopsim.laws": ("Law", "own_law"),
    "shopsim.scenario": (
        "Scenario", "change_scenario", "dump_scenario", "load_scenario", "parse_scenario", "read_scenario",
        "save_scenario", "scenario_schema",
    ),
    "shopsim.study": ("Study", "extend_study", "open_study", "run_study"),
    "shopsim.study.once": ("RunResult", "run_once"),
}  # fmt: skip
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names}
_ROOMS = frozenset(home.split(".")[1] for home in _HOMES) | {"charts", "cli", "export", "report", "units"}

__version__ = VERSION

__all__ = [
    "Answer",
    "BrokenRecord",
    "Cancelled",
    "Fault",
    "InputError",
    "Law",
    "RunError",
    "RunResult",
    "Scenario",
    "ScenarioError",
    "ShopSimError",
    "StalledShop",
    "Study",
    "Waiting",
    "change_scenario",
    "compare_batch_sizes",
    "compare_batches_by",
    "compare_clamps",
    "compare_ways",
    "decide",
    "dump_scenario",
    "extend_study",
    "find_buying",
    "find_days",
    "find_holdups",
    "find_reach",
    "find_worth",
    "forecast_delivery",
    "forecast_from_now",
    "load_scenario",
    "open_study",
    "own_law",
    "parse_scenario",
    "read_scenario",
    "run_once",
    "run_study",
    "save_scenario",
    "scenario_schema",
    "write_words",
]


def __getattr__(name: str) -> Any:
    """A public name, or a module of the package, from its home."""
    from importlib import import_module

    if name in _HOME_OF:
        found = globals()[name] = getattr(import_module(_HOME_OF[name]), name)
        return found
    if name in _ROOMS:
        return import_module(f"{__name__}.{name}")
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__, *_ROOMS})
