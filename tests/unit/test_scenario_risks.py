"""Steps whose name, station or kind speaks of risk suggest their cautions, and the examples carry all of theirs."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from shopsim.answers import offer_cautions
from shopsim.scenario import CAUTIONS, Operation, Scenario, load_scenario, parse_scenario, read_scenario_text
from shopsim.scenario.risks import RiskKind, suggest_cautions

EXAMPLES = Path(__file__).resolve().parents[2] / "scenarios"
NAMES = ("counter-stools", "serving-trays", "wall-cabinets")


def suggested(name: str, station: str = "", carried: tuple[str, ...] = (), **kind: bool) -> set[str]:
    return set(suggest_cautions(name, station, RiskKind(**kind), carried))


MACHINE = {"noise", "dust", "eye protection"}


@pytest.mark.parametrize(
    ("name", "station", "wanted"),
    [
        ("rip legs", "table saw", {"table saw", *MACHINE}),
        ("resaw lids", "", {"band saw", *MACHINE}),
        ("saw tenons", "hand saw", {"hand tools"}),
        ("crosscut legs", "", {"cut-off saw"}),
        ("rough cut", "cut-off saw", {"cut-off saw", *MACHINE}),
        ("cut mitres", "", {"table saw", "eye protection"}),
        ("flatten", "jointer-planer", {"jointer and planer", *MACHINE}),
        ("plane boards", "", {"jointer and planer"}),
        ("round over edges", "router table", {"router", *MACHINE}),
        ("Rout seat edges", "", {"router", *MACHINE}),
        ("drill holes", "", {"drill", "eye protection"}),
        ("sand lids", "", {"dust"}),
        ("carve spoon", "", {"hand tools"}),
        ("oil tray", "", {"oily rags"}),
        ("rub in walnut oil", "", {"oily rags", "nut oils"}),
        ("wax lid", "", {"solvent fumes"}),
        ("thin with solvent", "", {"solvent fumes"}),
        ("first coat", "", {"solvent fumes"}),
        ("fill with epoxy", "", {"glue-up", "solvent fumes"}),
        ("glue top", "", {"glue-up"}),
        ("screw on hinges", "", {"power tools"}),
        ("lift top onto base", "", {"lifting"}),
        ("pack", "", {"lifting"}),
        ("mark joints", "bench", set()),
        ("dry-fit base", "bench", set()),
        ("choose boards", "", set()),
        ("route the invoice to a sandwich shop", "", set()),
    ],
)
def test_a_name_or_station_suggests(name: str, station: str, wanted: set[str]) -> None:
    assert suggested(name, station) == wanted
    assert suggested(name, station, tuple(wanted)) == set()
    assert suggested(name, station, ("none needed",)) == set()
    assert wanted <= set(CAUTIONS)


def test_a_kind_suggests() -> None:
    assert suggested("make", dusty=True) == {"dust"}
    assert suggested("make", wet=True) == {"oily rags", "solvent fumes"}
    assert suggested("make", clamped=True) == {"glue-up"}
    assert suggested("make", by_machine=True) == {"noise", "eye protection"}


def test_what_is_carried_is_not_suggested_and_words_of_ones_own_carry_nothing() -> None:
    assert suggested("rip legs", carried=("table saw", "noise")) == {"dust", "eye protection"}
    assert suggested("rip legs", carried=("band saw", *MACHINE)) == set()
    assert suggested("sand lid", carried=("the sander is loud",)) == {"dust"}


def test_a_scenario_offers_what_its_steps_lack_options_and_packing_among_them(write_shop: Callable[..., str]) -> None:
    scenario = parse_scenario(
        write_shop(
            """{ name = "rip", work = "5 min", caution = ["table saw", "mind the cat"] },
            { name = "sand", work = "5 min", caution = "dust" },
            { name = "rest on sanding sticks", hands = 0, cure = "1 d" },""",
            more="""[[design.options]]
            name = "oiled"
            add = [{ name = "oil", after = ["sand"], work = "5 min", wet = "1 h" }]
            [shipping]
            packing = "5 min"
            """,
        )
    )
    assert offer_cautions(scenario).to_dict("records") == [
        {"operation": "rip", "carries": "table saw; mind the cat", "suggests": "noise; eye protection; dust"},
        {"operation": "oil", "carries": "", "suggests": "oily rags; solvent fumes"},
        {"operation": "packing", "carries": "", "suggests": "lifting"},
    ]


def test_a_suggestion_is_no_fault_and_no_warning(write_shop: Callable[..., str]) -> None:
    reading = read_scenario_text(write_shop('{ name = "rip", work = "5 min" },'))
    assert reading.faults == reading.warnings == ()


# ---- the examples, held against a list of risks written apart from the words that suggest ----------------------------

#: What the work at a station asks for.
BY_STATION = {
    "table saw": {"table saw", *MACHINE},
    "cut-off saw": {"cut-off saw", *MACHINE},
    "jointer-planer": {"jointer and planer", *MACHINE},
    "router table": {"router", *MACHINE},
    "drilling jig": {"drill", "eye protection", "power tools"},
    "finishing table": {"oily rags", "solvent fumes"},
    "bench": set(),
    "flat table": set(),
    "": set(),
}
#: What single steps ask for besides, as somebody who has used the machines reads them.
BY_STEP = {
    "make jigs": {"table saw", "router", *MACHINE},
    "make hinge and joint templates": {"router", *MACHINE},
    "choose boards": {"lifting"},
    "crosscut rails": {"small parts"},
    "chamfer rails": {"small parts"},
    "cut door parts": {"small parts"},
    "cut door joints": {"small parts"},
    "cut tray parts": {"small parts"},
    "cut tray joints": {"small parts"},
    "rough cut": {"wood species"},
    "mill leg blanks": {"wood species"},
    "mill rail blanks": {"wood species"},
    "mill seat boards": {"wood species"},
    "mill case boards": {"wood species"},
    "mill door and tray stock": {"wood species"},
    "mill boards": {"table saw", "jointer and planer", *MACHINE},
    "cut mitres and fit bottom": {"table saw", "small parts", *MACHINE},
    "drill side joints": {"fatigue"},
    "drill cross joints": {"fatigue"},
    "level feet": {"hand tools"},
    "cut fastener slots": {"router", "power tools", *MACHINE},
    "screw seat to base": {"power tools"},
    "hang doors": {"lifting", "power tools"},
    "fit trays": {"power tools"},
    "fit back": {"power tools"},
    "fit knobs and catches": {"drill", "power tools", "eye protection"},
    "glue case": {"lifting"},
    "oil tray": {"oily rags", "solvent fumes", "nut oils"},
}
#: Steps at which nothing can hurt that a caution speaks of: looking, marking, putting together dry, and waiting.
HARMLESS = {
    "mark joints", "dry-fit side frames", "dry-fit base", "inspect and touch up", "check, number and photograph",
    "dry-fit case", "milled stock rests on sticks",
}  # fmt: skip


def risks_of(operation: Operation) -> set[str]:
    wanted = BY_STATION[operation.station or ""] | BY_STEP.get(operation.name, set())
    if operation.dusty:
        wanted = wanted | {"dust"}
    if operation.wet is not None:
        wanted = wanted | {"oily rags", "solvent fumes"}
    if operation.clamps:
        wanted = wanted | {"glue-up"}
    return wanted


@pytest.fixture(scope="module", params=NAMES)
def example(request: pytest.FixtureRequest) -> Scenario:
    return load_scenario(EXAMPLES / f"{request.param}.toml")


def test_every_step_of_every_example_carries_the_cautions_of_its_risks(example: Scenario) -> None:
    for operation in example.all_designs[0].operations:
        assert risks_of(operation) <= set(operation.caution), operation.name
        assert bool(operation.caution) != (operation.name in HARMLESS), operation.name
        assert set(operation.caution) <= set(CAUTIONS)
    if example.shipping.packing is not None:
        assert {"lifting", "hand tools"} <= set(example.shipping.caution)


def test_nothing_is_left_to_offer_in_the_examples(example: Scenario) -> None:
    assert offer_cautions(example).empty


def test_every_risk_written_here_belongs_to_a_step_that_is_there() -> None:
    names = {step.name for name in NAMES for step in load_scenario(EXAMPLES / f"{name}.toml").all_designs[0].operations}
    assert names >= set(BY_STEP) | HARMLESS
