"""Options in a file: read and written whole, told of where they cannot be, and refused where they cannot be made."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import jsonschema
import pytest

from shopsim import dump_scenario, parse_scenario, run_once
from shopsim.scenario import Operation, change_scenario, read_scenario_text, scenario_schema
from shopsim.scenario.design import AddedOperation, ChangedOperation
from shopsim.scenario.variants import make_variant, read_options
from shopsim.study import hash_scenario

STEPS = """
{ name = "cut", work = "30 min" },
{ name = "glue", work = "20 min", clamps = [{ kind = "bar", count = 2 }], in_clamps = "1 h" },
{ name = "oil", work = "10 min" },
"""
BARS = '[[shop.clamps]]\nname = "bar"\ncount = 4\n'


def faults(write_shop: Callable[..., str], options: str, folder: Path | None = None, **lines: str) -> list[str]:
    reading = read_scenario_text(write_shop(STEPS, shop=BARS, more=options, **lines), "shop.toml", folder=folder)
    assert (reading.scenario is None) == bool(reading.faults)
    return [str(fault) for fault in reading.faults]


def option(text: str, name: str = "walnut") -> str:
    return f'[[design.options]]\nname = "{name}"\n{text}\n'


def after(write_shop: Callable[..., str], options: str, *chosen: int) -> dict[str, tuple[str, ...]]:
    (design,) = parse_scenario(write_shop(STEPS, shop=BARS, more=options)).all_designs
    return {operation.name: operation.after or () for operation in make_variant(design, chosen)}


def test_every_key_of_an_operation_can_be_changed_by_an_option() -> None:
    assert set(ChangedOperation.model_fields) - {"operation"} == set(Operation.model_fields) - {"name"}
    assert set(AddedOperation.model_fields) - {"before"} == set(Operation.model_fields)


def test_options_are_written_and_read_back_whole(write_shop: Callable[..., str]) -> None:
    options = option(
        'drop = ["oil"]\nmaterials = ["boards"]\n'
        'change = [{ operation = "cut", setup = "0 min", clamps = [], stays = false, cure = "2 / 3 / 5 h" }]\n'
        'add = [{ name = "wax", after = ["glue"], before = [], work = "5 min" }]'
    )
    scenario = parse_scenario(
        write_shop(STEPS, shop=BARS, more=options + '[[materials]]\nname = "boards"\nneeded_by = ["cut", "wax"]\n')
    )
    (walnut,) = scenario.all_designs[0].options
    assert walnut.change[0].setup is not None
    assert walnut.change[0].clamps == ()
    assert walnut.change[0].stays is False
    again = parse_scenario(dump_scenario(scenario))
    assert again == scenario
    assert hash_scenario(again) == hash_scenario(scenario)
    changed = change_scenario(scenario, {'design.options."walnut".drop': None})
    assert changed.all_designs[0].options[0].drop == ()
    assert changed.all_designs[0].options[0].change == walnut.change
    assert hash_scenario(changed) != hash_scenario(scenario)


def test_the_schema_knows_options_and_what_is_said_of_demand() -> None:
    schema = scenario_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    data = {
        "shop": {"open": "always"},
        "design": {
            "name": "tray",
            "operations": [{"name": "cut", "work": "5 min"}],
            "options": [{"name": "red", "add": [{"name": "stain", "after": ["cut"], "work": "5 min"}]}],
        },
        "run": {"start": "2027-01-04", "demand": "9 / 18 / 36", "cap": 20, "batches_by": "option"},
    }
    validator = jsonschema.Draft202012Validator(schema)
    assert [error.message for error in validator.iter_errors(json.loads(json.dumps(data)))] == []
    data["run"]["demand"] = "many"  # type: ignore[index]
    data["design"]["options"][0]["paint"] = "red"  # type: ignore[index]
    assert len(list(validator.iter_errors(data))) == 2


def test_an_added_operation_comes_between_those_it_comes_after_and_what_came_after_them(
    write_shop: Callable[..., str],
) -> None:
    stain = option('add = [{ name = "stain", after = ["glue"], work = "5 min" }]')
    assert after(write_shop, stain) == {"cut": (), "glue": ("cut",), "oil": ("glue",)}
    assert after(write_shop, stain, 0) == {"cut": (), "glue": ("cut",), "stain": ("glue",), "oil": ("glue", "stain")}
    alone = stain.replace('work = "5 min"', 'work = "5 min", before = []')
    assert after(write_shop, alone, 0)["oil"] == ("glue",)
    two = option('add = [{ name = "stain", after = ["glue"] }, { name = "seal", before = ["oil"] }]')
    assert after(write_shop, two, 0) == {
        "cut": (), "glue": ("cut",), "stain": ("glue",), "seal": ("stain",), "oil": ("glue", "stain", "seal"),
    }  # fmt: skip


def test_what_came_after_a_dropped_operation_comes_after_what_that_one_came_after(
    write_shop: Callable[..., str],
) -> None:
    assert after(write_shop, option('drop = ["glue"]'), 0) == {"cut": (), "oil": ("cut",)}
    # of several options, those earlier in the file come first: what one drops the next cannot change
    both = option('drop = ["glue"]') + option('change = [{ operation = "glue", work = "1 h" }]', "oak")
    assert after(write_shop, both, 0, 1) == {"cut": (), "oil": ("cut",)}


def test_an_added_operation_never_makes_a_circle(write_shop: Callable[..., str]) -> None:
    assert after(write_shop, option('add = [{ name = "mark", after = ["cut", "glue"] }]'), 0) == {
        "cut": (), "glue": ("cut",), "mark": ("cut", "glue"), "oil": ("glue", "mark"),
    }  # fmt: skip


def test_a_design_without_options_takes_any_text_for_one(write_shop: Callable[..., str]) -> None:
    (design,) = parse_scenario(write_shop(STEPS, shop=BARS)).all_designs
    assert read_options(design, "whatever the buyer wrote") == ()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('drop = ["oill"]', 'design.options "walnut" · drop[0] · there is no operation "oill" · write "oil"'),
        ('drop = ["oil"]\nchange = [{ operation = "oil", work = "5 min" }]', 'design.options "walnut" · drop[0] · "oil" is changed and dropped · do one of them'),
        ('drop = ["cut", "glue", "oil"]', 'design.options "walnut" · drop · drops every operation · leave one, or add another'),
        ('change = [{ operation = "sand", work = "5 min" }]', 'design.options "walnut" · change[0] · operation · there is no operation "sand" · known are "cut", "glue", "oil"'),
        ('change = [{ operation = "oil", work = "5 min" }, { operation = "oil", cure = "1 h" }]', 'design.options "walnut" · change[1] · operation · "oil" is changed twice · write both changes in one'),
        ('change = [{ work = "5 min" }]', 'design.options "walnut" · change[0] · operation · is missing'),
        ('change = [{ operation = "oil", work = "5" }]', 'design.options "walnut" · change[0] · work · "5" has no unit'),
        ('change = [{ operation = "oil", wrok = "5 min" }]', 'design.options "walnut" · change[0] · wrok · is not a known key · write "work"'),
        ('add = [{ name = "oil", after = ["cut"] }]', 'design.options "walnut" · add "oil" · name · the design has an operation of this name already · write it under change, or give it another name'),
        ('add = [{ name = "wax" }]', 'design.options "walnut" · add "wax" · after · is missing · say what it comes after, like after = ["sand"]'),
        ('add = [{ name = "wax", after = ["oli"] }]', 'design.options "walnut" · add "wax" · after[0] · there is no operation "oli" · write "oil"'),
        ('drop = ["oil"]\nadd = [{ name = "wax", after = ["oil"] }]', 'design.options "walnut" · add "wax" · after[0] · there is no operation "oil"'),
        ('materials = ["boards"]', 'design.options "walnut" · materials[0] · there is no material "boards" · take it out'),
        ('change = [{ operation = "glue", clamps = [{ kind = "bar", count = 6 }] }]', 'design "tray" with walnut · "glue" · needs 6 clamps of the kind "bar", the shop owns 4 · buy 2, or lower the need'),
        ('change = [{ operation = "cut", after = ["oil"] }]', 'design "tray" with walnut · "cut" · after · the operations wait for each other in a circle'),
        ('change = [{ operation = "oil", after = ["gleu"] }]', 'design.options "walnut" · change[0] · after[0] · there is no operation "gleu" · write "glue"'),
        ('change = [{ operation = "oil", after = ["oil"] }]', 'design "tray" with walnut · "oil" · after · comes after itself · take its own name out'),
        ('add = [{ name = "bend", after = ["cut"], pausable = false, work = "20 h" }]', 'design "tray" with walnut · "bend"'),
        ('add = [{ name = "wax", after = ["oil"], station = "bench" }]', 'design "tray" with walnut · "wax" · station · there is no station "bench"'),
    ],
)  # fmt: skip
def test_what_an_option_cannot_do_is_told_at_its_line(write_shop: Callable[..., str], text: str, said: str) -> None:
    found = faults(write_shop, option(text))
    line = write_shop(STEPS, shop=BARS, more=option(text)).splitlines().index("[[design.options]]") + 1
    assert len(found) == 1
    assert said in found[0]
    assert int(found[0].split(":")[1].split(" ")[0]) in range(line, line + 4)


def test_all_faults_of_all_options_are_told_at_once(write_shop: Callable[..., str]) -> None:
    found = faults(write_shop, option('drop = ["x"]') + option('drop = ["y"]', "oak") + option("", "Walnut"))
    assert [fault.split(" · ", 1)[1] for fault in found] == [
        'design.options "walnut" · drop[0] · there is no operation "x" · known are "cut", "glue", "oil"',
        'design.options "oak" · drop[0] · there is no operation "y" · known are "cut", "glue", "oil"',
        'design.options "Walnut" · name · there are two options of this name ("walnut" differs only in capitals or '
        "spaces) · give each its own name",
    ]


def test_a_worker_may_be_able_to_do_what_only_an_option_adds(write_shop: Callable[..., str]) -> None:
    more = option('add = [{ name = "wax", after = ["oil"], work = "5 min" }]')
    shop = BARS + '[[shop.workers]]\nname = "me"\n[[shop.workers]]\nname = "helper"\ncan = ["wax"]\n'
    assert parse_scenario(write_shop(STEPS, shop=shop, more=more)).shop.workers[1].can == ("wax",)
    nobody = BARS + '[[shop.workers]]\nname = "me"\ncan = ["cut", "glue", "oil"]\n'
    reading = read_scenario_text(write_shop(STEPS, shop=nobody, more=more))
    assert [fault.rule for fault in reading.faults] == ["nobody in the shop can do it"]


def test_options_that_orders_ask_for_are_known_or_told_by_row(write_shop: Callable[..., str], tmp_path: Path) -> None:
    (tmp_path / "orders.csv").write_text(
        "id,date,wood,finish\nA,2027-01-04,walnut,\nB,2027-01-04,wallnut,\nC,2027-01-05,,blue\nD,2027-01-05,,\n"
    )
    text = write_shop(STEPS, shop=BARS, more=option(""), run='orders = "orders.csv"')
    reading = read_scenario_text(text, "shop.toml", folder=tmp_path)
    assert [str(fault) for fault in reading.faults] == [
        'orders.csv:3 · order "B" · option · there is no option "wallnut" · write "walnut"',
        'orders.csv:4 · order "C" · option · there is no option "blue" · options of the tray are "walnut"',
    ]


def test_two_options_that_cannot_go_together_are_refused_only_where_somebody_asks_for_both(
    write_shop: Callable[..., str], tmp_path: Path
) -> None:
    options = option('change = [{ operation = "glue", wet = "1 h" }]', "wet glue") + option(
        'change = [{ operation = "glue", dusty = true }]', "dusty glue"
    )
    text = write_shop(STEPS, shop=BARS, more=options, run='orders = "orders.csv"')
    book = tmp_path / "orders.csv"
    book.write_text("id,date,option\nA,2027-01-04,wet glue\nB,2027-01-04,dusty glue\n")
    assert read_scenario_text(text, folder=tmp_path).faults == ()
    book.write_text("id,date,option\nA,2027-01-04,wet glue + dusty glue\n")
    (fault,) = read_scenario_text(text, folder=tmp_path).faults
    assert fault.place == 'design "tray" with wet glue + dusty glue · "glue" · dusty'
    assert fault.rule.startswith("is wet and dusty at once")


def test_two_options_that_leave_nothing_to_do_are_refused_only_where_somebody_asks_for_both(
    write_shop: Callable[..., str], tmp_path: Path
) -> None:
    options = option('drop = ["cut", "glue"]', "glued") + option('drop = ["oil"]', "raw")
    text = write_shop(STEPS, shop=BARS, more=options, run='orders = "orders.csv"')
    book = tmp_path / "orders.csv"
    book.write_text("id,date,option\nA,2027-01-04,glued\nB,2027-01-04,raw\n")
    assert read_scenario_text(text, folder=tmp_path).faults == ()
    book.write_text("id,date,option\nA,2027-01-04,glued + raw\n")
    (fault,) = read_scenario_text(text, folder=tmp_path).faults
    assert str(fault).endswith(
        'design "tray" with glued + raw · nothing is left to be done · '
        "let one of these options leave an operation, or take the order out"
    )


def test_an_operation_that_only_another_option_adds_is_not_known_to_one_alone(write_shop: Callable[..., str]) -> None:
    added = option('add = [{ name = "wax", after = ["oil"], work = "5 min" }]', "waxed")
    (fault,) = faults(write_shop, added + option('change = [{ operation = "glue", after = ["wax"] }]', "odd"))
    assert 'design.options "odd" · change[0] · after[0] · there is no operation "wax"' in fault


@pytest.mark.parametrize(
    ("cover", "together", "way"),
    [
        ('handful = "batch"', "one batch", 'set run.batches_by = "option", or '),
        ('per = "batch"', "one batch", 'set run.batches_by = "option", or '),
        ('per = "run"', "one run", ""),
    ],
)
def test_options_that_wait_for_each_other_in_a_circle_are_told_at_their_line(
    write_shop: Callable[..., str], tmp_path: Path, cover: str, together: str, way: str
) -> None:
    steps = STEPS + f'{{ name = "stain", {cover} }},\n{{ name = "seal", {cover} }},\n'
    options = option(
        'change = [{ operation = "stain", after = ["seal"] }, { operation = "seal", after = ["oil"] }]', "sealed first"
    )
    text = write_shop(steps, shop=BARS, more=options, run='orders = "orders.csv"\nbatch = 2')
    book = tmp_path / "orders.csv"
    book.write_text("id,date,option\nA,2027-01-04,\nB,2027-01-04,sealed first\n")
    (fault,) = read_scenario_text(text, "shop.toml", folder=tmp_path).faults
    line = text.splitlines().index('name = "sealed first"') + 2
    assert str(fault) == (
        f'shop.toml:{line} · design.options "sealed first" · change[0] · pieces of {together} wait for each other in a '
        'circle: "stain" after "seal" with sealed first, "seal" after "stain" without an option '
        f"· {way}put them in the same order with all options"
    )
    mended = text.replace("[run]", '[run]\nbatches_by = "option"')
    assert bool(read_scenario_text(mended, folder=tmp_path).faults) == (not way)
    for alone in ("", "sealed first"):
        book.write_text(f"id,date,option\nA,2027-01-04,{alone}\nB,2027-01-04,{alone}\n")
        assert read_scenario_text(text, folder=tmp_path).faults == ()


def test_what_waits_for_a_batch_that_cannot_open_is_told_with_the_least_room_that_mends_it(
    write_shop: Callable[..., str], tmp_path: Path
) -> None:
    steps = '{ name = "jig", per = "run", work = "20 min" },\n{ name = "cut", work = "10 min" },\n'
    options = option('add = [{ name = "template", per = "run", after = [], before = ["jig"], work = "1 h" }]', "curved")
    # the jig, one for all, comes after the template of the third piece; the first cannot go on without the jig
    (tmp_path / "orders.csv").write_text(
        "id,date,option\nA,2027-01-04,\nB,2027-01-04,\nC,2027-01-04,curved\nD,2027-01-04,\n"
    )
    text = write_shop(steps, more=options, run='orders = "orders.csv"\nbatch = 1\npieces_open = 2')
    (fault,) = read_scenario_text(text, "shop.toml", folder=tmp_path).faults
    assert str(fault).endswith(
        'design.options "curved" · add "template" · "jig" is done once for all and waits for "template", which batch 3 '
        "begins; only 2 pieces may be under way at once, so that batch could never open · set run.pieces_open = 3"
    )
    run = run_once(parse_scenario(text.replace("pieces_open = 2", "pieces_open = 3"), folder=tmp_path), likely=True)
    assert run.check() == []


def test_more_batches_by_option_than_may_be_open_is_told_before_it_runs(
    write_shop: Callable[..., str], tmp_path: Path
) -> None:
    (tmp_path / "orders.csv").write_text("id,date,option\nA,2027-01-04,\nB,2027-01-04,walnut\nC,2027-01-04,oak\n")
    steps = STEPS + '{ name = "show", per = "run", work = "1 h" },\n'
    run = 'orders = "orders.csv"\nbatch = 3\nbatches_by = "option"\npieces_open = 2'
    options = option("") + option("", "oak")
    reading = read_scenario_text(write_shop(steps, shop=BARS, more=options, run=run), folder=tmp_path)
    assert [fault.mend for fault in reading.faults] == ['set run.pieces_open = 3, or write per = "batch"']


@pytest.mark.parametrize(
    ("run", "said"),
    [
        ("orders = 18\ncap = 12", "run.cap · 18 orders are more than the cap of 12 · write 18, or take orders out"),
        ('orders = 18\ndemand = "many"', 'run.demand · "many" is not made of whole numbers · write something like "9 / 18 / 36"'),
        ('orders = 18\ndemand = "36 / 18 / 9"', "low, likely and high are not in rising order"),
        ('demand = "0"', "run.demand · says that no orders come"),
        ('demand = "9 / 18 / 36"\nrelease = "as ordered"', "needs the date of every order, and a number has none"),
        ('demand = "9 / 18 / 36"\n[[run.lines]]\ndesign = "tray"\norders = 3\n[[run.lines]]\ndesign = "tray"\norders = 4', "run.demand · says nothing of which of the 2 lines it is about"),
        ('cap = 2\n[[run.lines]]\ndesign = "tray"\norders = 3', "run.cap · 3 orders are more than the cap of 2"),
        ('orders = 3\nbatches_by = "colour"', 'run.batches_by · "colour" is not one of "order received", "option"'),
        ('orders = 3\npromised = "soon"', 'run.promised · "soon" is not a date'),
    ],
)  # fmt: skip
def test_what_is_said_of_demand_cap_and_batches_is_checked(write_shop: Callable[..., str], run: str, said: str) -> None:
    found = faults(write_shop, "", run=run)
    assert len(found) == 1
    assert said in found[0]


def test_with_demand_no_number_of_orders_is_needed(write_shop: Callable[..., str]) -> None:
    scenario = parse_scenario(write_shop(STEPS, shop=BARS, run='demand = "9 / 18 / 36"\ncap = 12'))
    assert scenario.lines[0].orders == 12  # the likely 18, under the cap
    assert parse_scenario(dump_scenario(scenario)) == scenario
    assert faults(write_shop, "", run="batch = 2")[0].split(" · ")[1:3] == ["run.orders", "is missing"]
