"""Rules about a plan of one's own: every fault with its line, its rule and what would mend it."""

from __future__ import annotations

from shopsim.scenario import read_scenario_text

SHOP = """\
[shop]
open = "always"
[design]
name = "stool"
operations = [{ name = "draw", per = "run", work = "5 min" }, { name = "cut", work = "5 min" }]
[run]
orders = 4
batch = 2
start = 2027-01-11
priority = "as planned"
"""


def told(*lines: str, text: str = SHOP) -> list[str]:
    """What is wrong with a plan of these lines."""
    plan = "".join(f"  {line},\n" for line in lines)
    reading = read_scenario_text(f"{text}[run.plan]\norder = [\n{plan}]\n", "stools.toml")
    return [str(fault) for fault in reading.faults]


def warned(*lines: str) -> list[str]:
    """What is seldom meant about a plan of these lines."""
    plan = ", ".join(lines)
    reading = read_scenario_text(f"{SHOP}[run.plan]\norder = [{plan}]\n", "stools.toml")
    return [" · ".join((fault.place, fault.rule, fault.mend)) for fault in reading.warnings if "plan" in fault.place]


def test_a_sound_plan_has_no_faults() -> None:
    assert told('{ operation = "draw" }', '{ operation = "cut", batch = 2, not_before = 2027-01-12 }') == []
    assert told('{ operation = "cut", not_before = "2027-01-11 18:00" }') == []
    assert told() == []


def test_the_rule_needs_its_plan() -> None:
    reading = read_scenario_text(SHOP, "stools.toml")
    assert [str(fault) for fault in reading.faults] == [
        'stools.toml:10 · run.priority · "as planned" needs a plan, and there is none · '
        'search one with shopsim days, or write priority = "glue first"'
    ]


def test_unknown_operations_batches_and_designs_are_told_by_line() -> None:
    assert told(
        '{ operation = "cutt", batch = 1 }',
        '{ operation = "cut", batch = 3 }',
        '{ operation = "cut", design = "stol" }',
        '{ operation = "draw", batch = 1 }',
    ) == [
        'stools.toml:13 · run.plan.order[0] · operation · there is no operation "cutt" · write "cut"',
        "stools.toml:14 · run.plan.order[1] · batch · there is no batch 3, as the run makes 2 · "
        "take the line out, or search a new plan with shopsim days",
        'stools.toml:15 · run.plan.order "stol" · design · there is no design "stol" · write "stool"',
        "stools.toml:16 · run.plan.order[3] · batch · is done once for the whole run and not by batch · take batch out",
    ]


def test_a_moment_before_the_start_or_none_at_all_is_told_by_line() -> None:
    assert told(
        '{ operation = "cut", batch = 1, not_before = 2027-01-10 }',
        '{ operation = "cut", batch = 2, not_before = "soon" }',
    ) == [
        'stools.toml:14 · run.plan.order[1] · not_before · "soon" is not a date · '
        "write it like 2027-01-08 (year, month, day)",
    ]
    assert told('{ operation = "cut", batch = 1, not_before = 2027-01-10 }') == [
        "stools.toml:13 · run.plan.order[0] · not_before · 2027-01-10 is before the run starts on 2027-01-11 · "
        "write a later day, or take it out"
    ]


def test_one_thing_has_one_line() -> None:
    assert told('{ operation = "cut", batch = 1 }', '{ operation = "draw" }', '{ operation = "cut", batch = 1 }') == [
        "stools.toml:15 · run.plan.order[2] · says the same as line 1 of the plan, which counts · take one of the two out"
    ]


def test_a_plan_that_is_not_in_use_is_not_looked_at() -> None:
    text = SHOP.replace("as planned", "glue first")
    assert told('{ operation = "sand", batch = 9 }', text=text) == []


def test_work_without_a_line_is_a_warning() -> None:
    assert warned('{ operation = "cut", batch = 1 }') == [
        'run.plan.order · has no line about "draw", "cut" in batch 2, which go after all that have one · '
        "add a line where it is to go, or search a new plan with shopsim days"
    ]
    assert warned('{ operation = "cut" }', '{ operation = "draw" }') == []
