"""Cautions are there for the work that can hurt, short, and defer to those who know; a step carries one or several."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from shopsim.answers import list_cautions, plan_days
from shopsim.scenario import CAUTIONS, Scenario, change_scenario, dump_scenario, parse_scenario, read_scenario_text
from shopsim.study.once import run_once

KEYS = (
    "oily rags", "solvent fumes", "table saw", "cut-off saw", "band saw", "jointer and planer", "router", "drill",
    "power tools", "hand tools", "small parts", "eye protection", "dust", "wood species", "noise", "lifting", "glue-up",
    "nut oils", "fatigue",
)  # fmt: skip


def test_every_kind_of_work_that_can_hurt_has_a_short_caution_that_defers() -> None:
    assert tuple(CAUTIONS) == KEYS
    for text in CAUTIONS.values():
        assert "Local codes, the manufacturers' own instructions and qualified advice come first." in text
        assert "maker" not in text.replace("manufacturer", "")  # who reads it is the maker
        assert 150 < len(text) < 520


def test_rags_are_spread_out_and_never_heaped_and_there_is_a_way_without_outdoors() -> None:
    text = CAUTIONS["oily rags"]
    assert "catch fire" in text
    assert all(what in text for what in ("Rags, paper, steel wool and sanding dust", "Never heap them or bin them"))
    assert "No outdoors? Put them into that can of water at once." in text
    assert "local disposal rules" in text


def test_a_dust_mask_is_not_taken_for_a_respirator_against_vapour() -> None:
    assert "A dust mask stops no vapour" in CAUTIONS["solvent fumes"]
    assert "respirator for dust" in CAUTIONS["dust"]


def test_hands_stay_off_a_machine_that_may_start() -> None:
    for key in ("cut-off saw", "jointer and planer", "router"):
        assert "lug out" in CAUTIONS[key]
    assert "Plug or battery out" in CAUTIONS["power tools"]


STEPS = """
{ name = "cut", work = "10 min", caution = "table saw" },
{ name = "oil", work = "5 min", wet = "1 h", caution = ["oily rags", "keep the cat out", "solvent fumes"] },
{ name = "mark", work = "1 min", caution = ["none needed"] },
"""
PACKING = '[shipping]\npacking = "5 min"\ncaution = ["lifting", "mind the step"]\n'


@pytest.fixture
def scenario(write_shop: Callable[..., str]) -> Scenario:
    return parse_scenario(write_shop(STEPS, more=PACKING))


def test_one_caution_or_several_are_read_and_written_again(scenario: Scenario) -> None:
    cut, oil, mark = scenario.all_designs[0].operations
    assert cut.caution == ("table saw",)
    assert oil.caution == ("oily rags", "keep the cat out", "solvent fumes")
    assert mark.caution == ("none needed",)
    assert scenario.shipping.caution == ("lifting", "mind the step")
    text = dump_scenario(scenario)
    assert 'caution = "table saw"' in text
    assert parse_scenario(text) == scenario
    several = change_scenario(scenario, {"design.operations.cut.caution": ["table saw", "dust"]})
    assert several.all_designs[0].operations[0].caution == ("table saw", "dust")
    assert parse_scenario(dump_scenario(several)) == several


def test_each_is_listed_once_with_its_steps_packing_last_and_words_of_ones_own_as_they_are(scenario: Scenario) -> None:
    rows = list_cautions(scenario)
    assert rows["caution"].tolist() == [
        "table saw", "oily rags", "keep the cat out", "solvent fumes", "lifting", "mind the step",
    ]  # fmt: skip
    assert rows["operations"].tolist() == ["cut", "oil", "oil", "oil", "packing", "packing"]
    assert rows["text"].tolist() == [CAUTIONS.get(caution, "") for caution in rows["caution"]]
    assert list_cautions(scenario, ["packing"])["caution"].tolist() == ["lifting", "mind the step"]


def test_the_plan_of_days_names_all_of_a_step_beside_it(scenario: Scenario) -> None:
    plan = plan_days(run_once(scenario, likely=True))
    beside = plan[plan["do"] == "work"].groupby("operation")["caution"].unique().map(list).to_dict()
    assert beside == {
        "cut": ["table saw"],
        "oil": ["oily rags; keep the cat out; solvent fumes"],
        "mark": [""],
        "packing": ["lifting; mind the step"],
    }


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ('"planer"', 'there is no caution "planer" · write "jointer and planer", or a sentence of your own'),
        ('"Oily Rags"', 'there is no caution "Oily Rags" · write "oily rags", or a sentence of your own'),
        ('"none need"', 'there is no caution "none need" · write "none needed", or a sentence of your own'),
        ('["dust", "fatige"]', 'there is no caution "fatige" · write "fatigue", or a sentence of your own'),
        ("true", 'true is not a caution · write a key like "dust", words of your own, or several in brackets'),
        (f'"{"x" * 301}"', "is too long a caution · write at most 300 letters"),
        ('"a\\nb"', "holds a line break or another control character · write plain letters on one line"),
        (str([f"sentence {n} here" for n in range(21)]), "21 cautions are more than anybody reads · name at most 20"),
    ],
)  # fmt: skip
def test_what_is_no_caution_is_told(write_shop: Callable[..., str], written: str, said: str) -> None:
    reading = read_scenario_text(write_shop(f'{{ name = "sand", work = "5 min", caution = {written} }},'))
    assert [f"{fault.place} · {fault.rule} · {fault.mend}" for fault in reading.faults] == [
        f'design.operations "sand" · caution · {said}'
    ]


@pytest.mark.parametrize(
    "written", ["hot", "heavy lifting, ask the neighbour", "mind the cat", "the planer kicks back"]
)
def test_words_of_ones_own_are_taken_as_they_are(write_shop: Callable[..., str], written: str) -> None:
    text = write_shop(f'{{ name = "mark", work = "5 min", caution = "{written}" }},')
    assert list_cautions(parse_scenario(text))["caution"].tolist() == [written]
