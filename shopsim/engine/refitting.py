"""A plan made from one that is at hand, where the work is alike: what depends on the change alone is laid out anew."""

from __future__ import annotations

from shopsim.engine.luck import LuckPlan
from shopsim.engine.plan import SimulationPlan, lay_out
from shopsim.engine.worklist import refit_worklist
from shopsim.priority import Rule
from shopsim.scenario.model import ProductionRun, Scenario, Shop
from shopsim.scenario.ways import put_ways


def refit_plan(plan: SimulationPlan, scenario: Scenario, rule: Rule | None = None) -> SimulationPlan | None:
    """What ``build_plan`` gives, from a plan of the same work whose tasks and luck it shares; about one run's worth of time.

    None where the work is another one. It is the same where nothing differs but the priority rule, the room, the
    workers, and how many stations, spots and clamps there are.
    """
    scenario = put_ways(scenario)
    if scenario is not plan.scenario and not _has_same_work(scenario, plan.scenario):
        return None
    return lay_out(scenario, refit_worklist(plan.worklist, scenario), plan.luck, rule)


def refit_tasks(plan: SimulationPlan, scenario: Scenario, rule: Rule | None = None) -> SimulationPlan | None:
    """What ``build_plan`` gives, from a plan of the same tasks, which it shares, with luck of its own; None where tasks differ.

    Tasks are the same also where hours, days lost, what varies how far, and what was learned differ.
    """
    scenario = put_ways(scenario)
    old = plan.scenario
    kept = ("stations", "racks", "clamps")
    here, there = _without_counts(scenario.shop), _without_counts(old.shop)
    alike = (
        _without_order(scenario) == _without_order(old)
        and all(getattr(here, key) == getattr(there, key) for key in kept)
        and all(
            getattr(scenario, key) == getattr(old, key)
            for key in Scenario.model_fields
            if key not in ("title", "shop", "run", "luck", "learned")
        )
    )
    if not alike:
        return None
    work = refit_worklist(plan.worklist, scenario)
    return lay_out(scenario, work, LuckPlan(work), rule)


def _has_same_work(one: Scenario, other: Scenario) -> bool:
    """Whether two scenarios have the same tasks, with the same luck."""
    return (
        _without_order(one) == _without_order(other)
        and _without_counts(one.shop) == _without_counts(other.shop)
        and all(
            getattr(one, key) == getattr(other, key)
            for key in Scenario.model_fields
            if key not in ("title", "shop", "run")
        )
    )


def _without_order(scenario: Scenario) -> ProductionRun:
    """A run without what says only in which order, and how many at once, its pieces are worked on."""
    return scenario.run.model_copy(update={"priority": "", "plan": None, "pieces_open": None})


def _without_counts(shop: Shop) -> Shop:
    """A shop without its workers and the numbers of what it owns."""
    return shop.model_copy(
        update={
            "workers": (),
            "stations": tuple(station.model_copy(update={"count": 1}) for station in shop.stations),
            "racks": tuple(rack.model_copy(update={"spots": 1}) for rack in shop.racks),
            "clamps": tuple(kind.model_copy(update={"count": 1, "price": None}) for kind in shop.clamps),
        }
    )
