"""Ways of making it in a file: read and written whole, told of where they cannot be, and refused where they cannot be made."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import jsonschema
import pytest

from shopsim import dump_scenario, parse_scenario
from shopsim.scenario import change_scenario, read_scenario_text, scenario_schema
from shopsim.scenario.ways import list_ways, put_ways, ways_in_use

STEPS = """
{ name = "cut", work = "30 min" },
{ name = "glue", work = "20 min", clamps = [{ kind = "bar", count = 2 }], in_clamps = "1 h" },
{ name = "oil", work = "10 min" },
"""
BARS = '[[shop.clamps]]\nname = "bar"\ncount = 4\nreach = "24 in"\n'


def way(text: str, name: str = "jig") -> str:
    return f'[[design.ways]]\nname = "{name}"\n{text}\n'


def faults(write_shop: Callable[..., str], ways: str, *in_use: str, folder: Path | None = None) -> list[str]:
    run = f"orders = 2\nways = {list(in_use)}\n" if in_use else "orders = 2\n"
    reading = read_scenario_text(write_shop(STEPS, shop=BARS, more=ways, run=run), "shop.toml", folder=folder)
    assert (reading.scenario is None) == bool(reading.faults)
    return [str(fault) for fault in reading.faults]


def test_ways_are_written_and_read_back_whole(write_shop: Callable[..., str]) -> None:
    said = way(
        'change = [{ operation = "cut", work = "20 min" }]\nadd = [{ name = "make jig", after = [], per = "run" }]\n'
        'drop = ["oil"]\nstations = [{ name = "drill" }]\nclamps = [{ name = "toggle", count = 4 }]\n'
        'materials = ["plywood"]\nprice = 18.5'
    )
    material = '[[materials]]\nname = "plywood"\nneeded_by = ["make jig"]\n'
    scenario = parse_scenario(write_shop(STEPS, shop=BARS, more=said + material, run='orders = 2\nways = "jig"\n'))
    assert parse_scenario(dump_scenario(scenario)) == scenario
    assert [one.name for one in ways_in_use(scenario)] == ["jig"]
    made = put_ways(scenario)
    assert [operation.name for operation in made.all_designs[0].operations] == ["make jig", "cut", "glue"]
    assert [kind.name for kind in made.shop.clamps] == ["bar", "toggle"]
    assert list_ways(made) == []
    assert put_ways(made) is made
    none = change_scenario(scenario, {"run.ways": []})
    assert put_ways(none).materials[0].needed_by == ()  # nobody makes the jig, so nothing waits for its plywood
    assert put_ways(none).shop == none.shop


def test_the_schema_knows_ways() -> None:
    data = {
        "shop": {"open": "always"},
        "design": {
            "name": "tray",
            "operations": [{"name": "cut", "work": "5 min"}],
            "ways": [{"name": "jig", "change": [{"operation": "cut", "work": "4 min"}], "price": 3.0}],
        },
        "run": {"start": "2027-01-04", "orders": 2, "ways": ["jig"]},
    }
    jsonschema.validate(data, scenario_schema())
    data["design"]["ways"][0]["cost"] = 3.0  # type: ignore[index]
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(data, scenario_schema())


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('drop = ["oill"]', 'design.ways "jig" · drop[0] · there is no operation "oill" · write "oil"'),
        ('add = [{ name = "oil", after = [] }]', 'design.ways "jig" · add "oil" · name · the design has an operation of this name already · write it under change, or give it another name'),
        ('cost = 3.0', 'design.ways "jig" · cost · is not a known key · write "price"'),
        ('change = [{ operation = "cut", after = ["oil"] }]', 'design.ways "jig" · with the way "jig" · "cut" · after · the operations wait for each other in a circle: "cut" after "oil" after "glue" after "cut" · take one of them out of an after'),
        ('change = [{ operation = "glue", clamps = [{ kind = "bar", count = 6 }] }]', 'design.ways "jig" · with the way "jig" · "glue" · needs 6 clamps of the kind "bar", the shop owns 4 · buy 2, or lower the need'),
        ('change = [{ operation = "oil", station = "booth" }]', 'design.ways "jig" · with the way "jig" · "oil" · station · there is no station "booth" · add it under [[shop.stations]]'),
        ('clamps = [{ name = "bar", count = 2, reach = "36 in" }]', 'design.ways "jig" · clamps "bar" · reach · the shop has "bar" of another reach · take it out, or give the kind another name'),
        ('price = -1.0', 'design.ways "jig" · price'),
    ],
)  # fmt: skip
def test_what_a_way_cannot_do_is_told_at_its_place(write_shop: Callable[..., str], text: str, said: str) -> None:
    (found,) = faults(write_shop, way(text))
    place, message = found.split(" · ", 1)
    assert place.startswith("shop.toml:")
    assert message.startswith((said.replace('design.ways "jig" · with the way', "with the way"), said))


def test_the_clamps_and_stations_that_a_way_brings_count_for_it_alone(write_shop: Callable[..., str]) -> None:
    six = 'change = [{ operation = "glue", clamps = [{ kind = "bar", count = 6 }] }]\n'
    assert faults(write_shop, way(six + 'clamps = [{ name = "bar", count = 2 }]')) == []
    booth = 'change = [{ operation = "oil", station = "booth" }]\n'
    assert faults(write_shop, way(booth + 'stations = [{ name = "booth" }]')) == []
    two = way(six) + way('clamps = [{ name = "bar", count = 2 }]', "more bars")
    assert len(faults(write_shop, two)) == 1  # by itself the first cannot be


def test_a_way_drops_nothing_that_an_option_still_names(write_shop: Callable[..., str]) -> None:
    option = '[[design.options]]\nname = "dark"\nchange = [{ operation = "oil", work = "15 min" }]\n'
    (found,) = faults(write_shop, option + way('drop = ["oil"]'))
    assert found.endswith(
        'drops "oil", which the option "dark" still names · change it instead of dropping it, or write the option otherwise'
    )
    added = '[[design.options]]\nname = "dark"\nadd = [{ name = "stain", after = ["cut"], work = "5 min" }]\n'
    (found,) = faults(write_shop, added + way('add = [{ name = "stain", after = ["glue"] }]'))
    assert 'with the way "jig" · "dark"' in found
    assert "has an operation of this name already" in found


def test_ways_that_are_each_possible_are_refused_together_where_they_wait_for_each_other(
    write_shop: Callable[..., str],
) -> None:
    ways = way(
        'change = [{ operation = "glue", after = ["oil"] }, { operation = "oil", after = ["cut"] }]', "oil first"
    )
    ways += way(
        'change = [{ operation = "oil", clamps = [{ kind = "bar", count = 2 }], station = "bench" }]\nstations = [{ name = "bench" }]',
        "pressed",
    )
    ways += way('drop = ["oil"]', "raw")
    assert faults(write_shop, ways) == []
    assert faults(write_shop, ways, "oil first", "pressed") == []
    three = way('change = [{ operation = "cut", after = ["oil"] }, { operation = "oil", after = [] }]', "one")
    three += way('change = [{ operation = "oil", after = ["glue"] }]', "two")
    assert faults(write_shop, three, "two") == []
    (found,) = faults(write_shop, three, "one", "two")
    assert "wait for each other in a circle" in found
    assert 'with the ways "one" and "two"' in found


def test_the_run_names_ways_that_are_there_once_each(write_shop: Callable[..., str]) -> None:
    (found,) = faults(write_shop, way(""), "jgi")
    assert (
        found.endswith('run.ways[0] · there is no way "jgi" · write "jig"')
        or 'there is no way "jgi" · write "jig"' in found
    )
    (found,) = faults(write_shop, way(""), "jig", "Jig")
    assert 'names "Jig" twice · name it once' in found
    found_two = faults(write_shop, way("") + way(""))
    assert len(found_two) == 1
    assert "there are two ways of this name · give each its own name" in found_two[0]


def test_a_worker_may_be_able_to_do_what_only_a_way_adds_and_a_plan_may_order_it(
    write_shop: Callable[..., str],
) -> None:
    jig = way('add = [{ name = "make jig", after = [], before = ["cut"], per = "run", work = "1 h" }]\ndrop = ["oil"]')
    worker = '[[shop.workers]]\nname = "a"\ncan = ["make jig", "cut", "glue", "oil"]\n'
    plan = 'priority = "as planned"\nplan = { seed = 1, order = [{ operation = "make jig" }, { operation = "oil", batch = 1 }, { operation = "cut" }, { operation = "glue" }] }\n'
    text = write_shop(STEPS, shop=BARS + worker, more=jig, run='orders = 2\nways = ["jig"]\n' + plan)
    assert read_scenario_text(text, "shop.toml").faults == ()
    only = worker.replace('"make jig", ', "")
    reading = read_scenario_text(write_shop(STEPS, shop=BARS + only, more=jig, run="orders = 2\n"), "shop.toml")
    (found,) = [str(fault) for fault in reading.faults]
    assert 'with the way "jig" · "make jig" · nobody in the shop can do it' in found
