"""Hypothesis strategies for small random shops with every feature a file can have.

A shop is plain data, as a file has it, and sound by construction: whatever is drawn passes every check and can be
finished. Only an order book is a record of its own, since data has no place for a second file.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

from hypothesis import strategies as st

from shopsim.priority import PRIORITY_RULES
from shopsim.scenario import Order, OrderBook

DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
STRETCHES = (
    "08:00-12:00, 13:00-17:00", "09:00-17:00", "18:00-21:30", "08:30-12:30", "10:00-10:50, 11:00-18:00",
    "08:00-12:00, 12:00-15:00",
)  # fmt: skip
FIRST_DAY = dt.date(2027, 3, 1)
Data = dict[str, Any]


@st.composite
def times(draw: st.DrawFn, low: int, high: int) -> Any:
    """One time, low / likely / high, a named law or logged values, in whole minutes from ``low`` to ``high``."""
    form = draw(st.sampled_from(("one", "one", "range", "range", "law")))
    numbers = sorted(draw(st.lists(st.integers(low, high), min_size=3, max_size=3)))
    if form == "one":
        return f"{numbers[1]} min"
    if form == "range":
        numbers[1] = max(numbers[1], -(-numbers[2] // 1000))  # a high of more than 1,000 times the likely is refused
        return f"{numbers[0]} / {numbers[1]} / {numbers[2]} min"
    name = draw(st.sampled_from(("exponential", "triangular", "erlang", "beta-pert", "lognormal", "logged")))
    if name == "exponential":
        return {"law": name, "mean": f"{max(numbers[1], 1)} min"}
    if name == "erlang":
        return {"law": name, "mean": f"{max(numbers[1], 1)} min", "shape": draw(st.integers(1, 4))}
    if name == "lognormal":
        return {"law": name, "median": f"{max(numbers[1], 1)} min", "sigma": draw(st.sampled_from((0.1, 0.5)))}
    if name == "logged":
        return {"logged": [f"{number} min" for number in numbers]}
    return {"law": name, "low": f"{numbers[0]} min", "likely": f"{numbers[1]} min", "high": f"{numbers[2]} min"}


@st.composite
def hours(draw: st.DrawFn) -> dict[str, str]:
    """Opening hours on one to six days."""
    days = draw(st.lists(st.sampled_from(DAYS), min_size=1, max_size=6, unique=True))
    return {day: draw(st.sampled_from(STRETCHES)) for day in sorted(days, key=DAYS.index)}


@st.composite
def days_off(draw: st.DrawFn) -> list[str]:
    """Up to two holidays of up to nine days."""
    off = []
    for _ in range(draw(st.sampled_from((0, 0, 1, 2)))):
        first = FIRST_DAY + dt.timedelta(days=draw(st.integers(0, 30)))
        last = first + dt.timedelta(days=draw(st.integers(0, 8)))
        off.append(f"{first}..{last}" if last > first else f"{first}")
    return off


@st.composite
def clamp_needs(draw: st.DrawFn) -> list[Data]:
    """Clamps that one glue-up takes, of those that every shop of ``shops`` owns."""
    form = draw(st.sampled_from(("reach", "kind", "both", "long", "two reaches")))
    needs: list[Data] = []
    if form in ("reach", "both"):
        needs.append({"count": draw(st.integers(1, 3)), "reach": "10 in"})
    if form in ("kind", "both"):
        needs.append({"count": 1, "kind": "band"})
    if form == "long":
        needs.append({"count": draw(st.integers(1, 2)), "reach": "30 in"})
    if form == "two reaches":
        needs += [{"count": 1, "reach": "10 in"}, {"count": draw(st.integers(1, 2)), "reach": "30 in"}]
    return needs


@st.composite
def operations(
    draw: st.DrawFn, names: list[str], parts: dict[str, int], always: bool, learning: bool = True
) -> list[Data]:
    """Operations that every shop of ``shops`` can do: needs stay within what it owns."""
    listed = []
    for n, name in enumerate(names):
        operation: Data = {"name": name}
        if draw(st.booleans()):
            operation["after"] = draw(st.lists(st.sampled_from(names[:n]), max_size=2, unique=True)) if n else []
        per = draw(st.sampled_from(("piece", "piece", "piece", "batch", "run", *parts)))
        if per == "run" and (n or len(names) == 1):  # never all that is done: later batches would be done unopened
            per = "piece"
        if per != "piece":
            operation["per"] = per
        if per not in ("run", "batch"):
            handful = draw(st.sampled_from((None, None, 1, 2, "batch")))
            if handful == 2 and parts.get(per, 1) < 2:
                handful = 1
            if handful is not None:
                operation["handful"] = handful
            if draw(st.integers(0, 4)) == 0:
                operation["wait_for"] = "batch"
        operation["hands"] = draw(st.sampled_from((1, 1, 1, 1, 0, 2)))
        if draw(st.booleans()):
            operation["station"] = draw(st.sampled_from(("saw", "bench")))
            operation["stays"] = draw(st.integers(0, 5)) == 0
        operation["work"] = draw(times(0, 25))
        if draw(st.booleans()):
            operation["setup"] = draw(times(0, 15))
        if draw(st.integers(0, 2)) == 0:
            operation["clamps"] = draw(clamp_needs())
            if draw(st.booleans()):
                operation["in_clamps"] = draw(times(10, 900))
            if draw(st.booleans()):
                operation["unclamp"] = draw(times(0, 9))
        if draw(st.integers(0, 2)) == 0:
            operation["cure"] = draw(times(10, 2000))
        if draw(st.integers(0, 3)) == 0 and operation.get("handful") != "batch":
            operation["rest"] = "rack"
        if draw(st.integers(0, 4)) == 0:
            operation["wet"] = draw(times(5, 90))
        elif draw(st.integers(0, 3)) == 0:
            operation["dusty"] = True
        if draw(st.integers(0, 4)) == 0:
            operation["basis"] = "timed"
            operation["work_kind"] = "machine"
        if draw(st.integers(0, 4)) == 0 and learning:
            operation["learning"] = "90 %"
        if draw(st.integers(0, 4)) == 0:
            operation["redo"] = {"chance": draw(st.sampled_from(("30 %", "60 %"))), "work": draw(times(1, 20))}
        if draw(st.integers(0, 3)) == 0 and not always:
            operation["pausable"] = draw(st.booleans())
        if operation.get("handful") == "batch" or operation["hands"] == 2:
            operation["pausable"] = True
        listed.append(operation)
    return listed


@st.composite
def workers(draw: st.DrawFn, names: list[str], shop_hours: Any) -> list[Data]:
    """Maker and partner, who can do everything, and perhaps a helper who cannot; some with hours of their own."""
    people: list[Data] = [{"name": "maker"}, {"name": "partner"}]
    if draw(st.booleans()):
        people.append({"name": "helper", "can": draw(st.lists(st.sampled_from(names), min_size=1, unique=True))})
    if shop_hours == "always":
        return people
    day = next(iter(shop_hours))
    first = shop_hours[day].split("-")[0]
    for number, person in enumerate(people[1:]):
        if draw(st.booleans()):
            person["open"] = {day: f"{first}-{int(first[:2]) + 2 - number:02d}:{first[3:]}"}
            for other in draw(st.lists(st.sampled_from(DAYS), max_size=3)):
                person["open"].setdefault(other, draw(st.sampled_from(STRETCHES)))
        if draw(st.integers(0, 3)) == 0:
            person["closed"] = draw(days_off())
    return people


@st.composite
def orders(draw: st.DrawFn) -> Data:
    """A number of orders, or a book of them that is worked off as they come."""
    if draw(st.integers(0, 3)):
        return {"orders": draw(st.integers(1, 6))}
    book = []
    for number in range(draw(st.integers(1, 5))):
        day = FIRST_DAY + dt.timedelta(days=draw(st.integers(-10, 20)))
        book.append(Order(f"{number + 1}", day, draw(st.integers(1, 2)), minute=float(draw(st.integers(0, 1439)))))
    release = draw(st.sampled_from(("when orders close", "as ordered")))
    return {"orders": OrderBook("orders.csv", tuple(book)), "release": release}


@st.composite
def materials(draw: st.DrawFn, name: str, dated: bool) -> list[Data]:
    """Perhaps something bought that the first operation needs."""
    if draw(st.integers(0, 2)):
        return []
    boards: Data = {
        "name": "boards", "lead": draw(times(0, 5000)), "needed_by": [name], "on_shelf": draw(st.booleans()),
    }  # fmt: skip
    if draw(st.booleans()):
        boards["rest"] = draw(times(0, 3000))
    if dated:
        if draw(st.booleans()):
            boards["ordered"] = f"{FIRST_DAY + dt.timedelta(days=draw(st.integers(-9, 12)))}"
        if draw(st.booleans()):
            boards["late"] = draw(st.sampled_from(("10 %", "60 %")))
    return [boards]


@st.composite
def shops(draw: st.DrawFn, luck: bool = True, always: bool | None = None, plain: bool = False) -> Data:
    """A scenario as plain data, sound by construction: up to 6 operations, 6 pieces, 3 workers, 2 designs.

    ``luck`` False: whole days, none lost. ``always``: whether the shop never closes; None is either. ``plain``: nothing
    that ties a time to a date or to a number that is not a whole minute, so that every time can be doubled.
    """
    names = [f"op {n}" for n in range(draw(st.integers(1, 6)))]
    if always is None:
        always = draw(st.integers(0, 5)) == 0
    shop_hours = "always" if always else draw(hours())
    shop: Data = {
        "open": shop_hours,
        "workers": draw(workers(names, shop_hours)),
        "stations": [{"name": "saw"}, {"name": "bench", "count": draw(st.integers(1, 2))}],
        "racks": [{"name": "rack", "spots": draw(st.integers(3, 5))}],
        "clamps": [
            {"name": "short", "reach": "12 in", "count": draw(st.integers(0, 3))},
            {"name": "long", "reach": "36 in", "count": draw(st.integers(3, 4))},
            {"name": "band", "count": 1},
        ],
    }
    if not plain:
        shop["closed"] = draw(days_off())
    if not luck:
        shop |= {"interrupted": "0 %", "lost_days": "0 %"}
    elif draw(st.booleans()):
        shop |= {"interrupted": "5 / 10 / 25 %", "lost_days": "10 %"}
    designs = []
    for n in range(draw(st.sampled_from((1, 1, 2)))):
        parts = draw(st.sampled_from(({}, {"leg": 2}, {"leg": 3, "rail": 1})))
        some = names if n == 0 else names[: draw(st.integers(1, len(names)))]
        steps = draw(operations(some, parts, always, learning=not plain))
        designs.append({"name": f"design {n}", "parts": parts, "operations": steps})
    start = FIRST_DAY + dt.timedelta(days=draw(st.integers(0, 13)))
    run: Data = {
        "round_up_to": draw(st.integers(1, 3)),
        "batch": draw(st.integers(1, 4)),
        "pieces_open": draw(st.integers(1, 9)),
        "start": f"{start}",
        "priority": draw(st.sampled_from(PRIORITY_RULES)),
    }
    scenario: Data = {"title": "random shop", "shop": shop, "run": run}
    if len(designs) == 1:
        scenario["design"] = designs[0]
        run |= {"orders": draw(st.integers(1, 6))} if plain else draw(orders())
    else:
        scenario["designs"] = designs
        run["lines"] = [{"design": "design 0", "orders": draw(st.integers(1, 4))}]
        run["lines"].append({"design": "design 1", "orders": draw(st.integers(1, 3))})
        if draw(st.booleans()):
            run["lines"][1] |= {"batch": draw(st.integers(1, 2)), "round_up_to": 1}
        if draw(st.booleans()) and not plain:
            run["lines"][0]["start"] = f"{start + dt.timedelta(days=draw(st.integers(0, 9)))}"
    if draw(st.booleans()) and not plain:
        run["orders_close"] = f"{start - dt.timedelta(days=draw(st.integers(0, 9)))}"
    bought = draw(materials(names[0], dated=not plain))
    if bought:
        scenario["materials"] = bought
    if draw(st.integers(0, 2)) == 0:
        scenario["shipping"] = {"packing": "5 / 10 / 20 min", "before_packing": "4 h", "pick_up": ["tue", "fri"]}
    return scenario


@st.composite
def lone_pieces(draw: st.DrawFn) -> Data:
    """One piece made by one maker, one operation after the other, without luck."""
    shop = draw(shops(luck=False, always=False).filter(lambda data: "design" in data))
    del shop["shop"]["workers"]
    for operation in shop["design"]["operations"]:
        operation.pop("after", None)
        operation.pop("handful", None)
        operation["hands"] = min(operation["hands"], 1)
    shop["run"] |= {"orders": 1, "round_up_to": 1, "release": "when orders close"}
    return shop


@st.composite
def options(draw: st.DrawFn, names: list[str], parts: dict[str, int], number: int) -> Data:
    """An option that puts operations in another order, changes whom they are for, adds some and drops some."""
    option: Data = {"name": f"option {number}"}
    dropped = draw(st.lists(st.sampled_from(names), max_size=1))
    covers = st.sampled_from(("piece", "batch", "run", *parts))
    changes = []
    for name in draw(st.lists(st.sampled_from(names), max_size=2, unique=True)):
        others = [other for other in names if other != name]
        change: Data = {"operation": name}
        if draw(st.integers(0, 3)) and others:
            change["after"] = draw(st.lists(st.sampled_from(others), max_size=2, unique=True))
        if draw(st.integers(0, 3)) == 0:
            change["wait_for"] = "batch"
        if draw(st.integers(0, 3)) == 0:
            change["work"] = "7 min"
        if draw(st.integers(0, 4)) == 0:
            change["per"] = draw(covers)
        if name not in dropped:
            changes.append(change)
    option |= {"drop": dropped, "change": changes, "add": []}
    left = [name for name in names if name not in dropped]
    for extra in range(draw(st.sampled_from((0, 0, 1, 2)))):
        added: Data = {
            "name": f"extra {draw(st.sampled_from((number, 0)))}.{extra}",
            "work": "9 min",
            "per": draw(covers),
        }
        added["after"] = draw(st.lists(st.sampled_from(left), max_size=2, unique=True)) if left else []
        if draw(st.integers(0, 2)) == 0 and left:
            added["before"] = draw(st.lists(st.sampled_from(left), max_size=1))
        if draw(st.integers(0, 3)) == 0:
            added |= {"handful": "batch", "per": "piece"}
        if draw(st.integers(0, 3)) == 0:
            added["wait_for"] = "batch"
        option["add"].append(added)
    return option


@st.composite
def mixed_shops(draw: st.DrawFn) -> Data:
    """A scenario as plain data whose buyers choose among options; not sound by construction: some are to be refused."""
    data = draw(shops(luck=draw(st.booleans())))
    data.pop("shipping", None)
    designs = data.get("designs", [data["design"]] if "design" in data else [])
    for design in designs:
        names = [operation["name"] for operation in design["operations"]]
        for operation in design["operations"][1:]:
            if draw(st.integers(0, 7)) == 0:
                operation["per"] = "run"
                operation.pop("handful", None)
        design["options"] = [draw(options(names, design["parts"], n)) for n in range(draw(st.integers(1, 3)))]
    run = data["run"]
    for line in run.get("lines", [run]):
        design = next((one for one in designs if one["name"] == line.get("design")), designs[0])
        choices = ["", *(option["name"] for option in design["options"])]
        book = []
        for number in range(draw(st.integers(1, 4))):
            chosen = " + ".join(filter(None, draw(st.lists(st.sampled_from(choices), min_size=1, max_size=2))))
            day = FIRST_DAY + dt.timedelta(days=draw(st.integers(-10, 3)))
            book.append(Order(f"{number + 1}", day, draw(st.integers(1, 2)), option=chosen))
        line["orders"] = OrderBook("orders.csv", tuple(book))
        line["batch"] = draw(st.integers(1, 6))
    run["release"] = draw(st.sampled_from(("when orders close", "when orders close", "as ordered")))
    run["batches_by"] = draw(st.sampled_from(("order received", "order received", "option")))
    return data
