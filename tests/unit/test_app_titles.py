"""The app speaks of its own fields: a fault's place as the pages call it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from shopsim.app.faults import say_fault
from shopsim.app.tables import columns_of
from shopsim.app.titles import LISTS, TITLES, say_field, say_mend
from shopsim.errors import Fault
from shopsim.scenario import read_scenario_text
from shopsim.scenario.schema import scenario_schema


@pytest.mark.parametrize(
    ("place", "said"),
    [
        ('shop.clamps "bar clamp" · count', 'Clamps, "bar clamp": How many'),
        ('shop.clamps "bar clamp"', 'Clamps, "bar clamp"'),
        ("shop.workers[1] · open", "Who works there, number 2: Own hours"),
        ('design.operations "oil · twice" · work', 'Operations, "oil · twice": Hands-on time'),
        ('design.operations "glue" · clamps[0] · count', 'Operations, "glue": Clamps'),
        ('design.operations "oil" · after[0]', 'Operations, "oil": Comes after'),
        ('design.operations "glue" · werk', 'Operations, "glue": werk'),
        ('designs "tray" · operations "cut" · station', 'Operations, "cut": Station (of "tray")'),
        ("run.round_up_to", "Round up to a multiple of"),
        ("shop.open.tue", "When it is open, tue"),
        ("shop.clamps", "Clamps"),
        ("shop.closed[2]", "Closed on"),
        ("run.ordesr", "run.ordesr"),
        ("", ""),
    ],
)
def test_a_place_is_called_as_its_page_calls_it(place: str, said: str) -> None:
    assert say_field(place) == said


def test_a_mend_names_the_heading_of_a_table() -> None:
    assert say_mend("or add it under [[shop.stations]]") == 'or add it under "Machines and benches"'
    assert say_mend("write [[nothing.known]]") == "write [[nothing.known]]"


def test_every_field_that_has_a_title_is_in_the_file() -> None:
    schema = str(scenario_schema())
    assert all(f"'{part}'" in schema for key in TITLES for part in key.split("."))
    assert all(column.title for _, record in LISTS.values() for column in columns_of(record))


def test_faults_of_what_the_pages_edit_name_no_key_of_the_file(trays: Path) -> None:
    text = (
        trays.read_text(encoding="utf-8")
        .replace("orders = 3", "orders = 3\nround_up_to = -2")
        .replace("count = ", "count = -")
    )
    faults = read_scenario_text(text).faults
    assert faults
    said = [say_fault(fault) for fault in faults]
    assert not [line for line in said if re.search(r"\b(run|shop|design)\.[a-z_]+", line)]


def test_a_fault_still_names_the_line_of_the_file() -> None:
    fault = Fault("stools.toml", 48, 'shop.clamps "bar clamp" · count', "-2 is less than 0", "write 0 or more")
    assert say_fault(fault).endswith("(stools.toml, line 48)")
    assert say_fault(fault).startswith('Clamps, "bar clamp"\\: How many · ')
