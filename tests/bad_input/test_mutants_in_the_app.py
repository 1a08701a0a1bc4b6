"""Mutated files go through the upload of the app: each is refused in words or taken, shown, kept, and given back as it was.

``--mutants 20000`` tries so many; ``python tests/bad_input/mutate.py NUMBER`` prints one that a failure names.
"""

from __future__ import annotations

import traceback
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from shopsim.app.cells import to_cell
from shopsim.app.drafts import Draft, make_draft, read_upload
from shopsim.app.faults import page_of, say_fault
from shopsim.app.grid import make_frame, read_frame
from shopsim.app.hours_editor import hours_by_day
from shopsim.app.keeping import FOLDER_VARIABLE, Kept, pack_kept, unpack_kept
from shopsim.app.operation_views import cautions_of, network_nodes
from shopsim.app.tables import (
    EditedTable,
    clamp_table,
    count_edits,
    line_table,
    material_table,
    operation_table,
    rack_table,
    read_rows,
    station_table,
    worker_table,
)
from shopsim.charts.network_chart import build_network
from shopsim.errors import InputError
from shopsim.limits import MAX_EDITED_ROWS
from shopsim.scenario.key_paths import value_at

from .mutate import Mutant, mutate, read_examples

TABLES: dict[tuple[str, ...], EditedTable] = {
    ("shop", "workers"): worker_table(),
    ("shop", "stations"): station_table(),
    ("shop", "racks"): rack_table(),
    ("shop", "clamps"): clamp_table(),
    ("design", "operations"): operation_table(["bench"], ["leg"]),
    ("materials",): material_table(),
    ("run", "lines"): line_table(["tray"]),
}
#: Mutants that are drawn on whole pages, which takes a hundred times as long as reading them.
DRAWN = 12


def take(mutant: Mutant) -> Draft | str:
    """What the upload makes of a mutant: a draft, or words."""
    try:
        text = read_upload(mutant.text, "mutant.toml")
        for name, data in mutant.beside.items():
            read_upload(data, name)
    except InputError as error:
        return str(error)
    return make_draft(text, "mutant.toml", mutant.beside)


def find_wrong(draft: Draft, is_drawn: bool) -> Iterator[str]:
    """What is wrong with how a draft is kept and shown, in a drawing as well if ``is_drawn``."""
    kept = unpack_kept(pack_kept(Kept(draft)))
    if kept.draft is None or (kept.draft.text, dict(kept.draft.beside)) != (draft.text, dict(draft.beside)):
        yield "is kept otherwise than it was given"
    if (draft.scenario is None) != bool(draft.faults):
        yield "has neither faults nor a scenario, or both"
    for fault in draft.faults:
        if page_of(fault) not in ("start", "shop", "piece", "orders") or "\n" in say_fault(fault).replace("  \n", ""):
            yield f"a fault that cannot be shown: {fault}"
    data: Any = draft.data
    if data is None:
        return
    for where, table in TABLES.items():
        items = value_at(data, where)
        if not isinstance(items, list) or len(items) > MAX_EDITED_ROWS:
            continue
        rows = read_rows(table, items)
        if count_edits(rows, read_frame(table, make_frame(table, rows), rows)):
            yield f"{where} changes by being shown"
        if where[-1] == "operations":
            cautions_of(rows)
            nodes = network_nodes(rows)
            if is_drawn:
                build_network(nodes)
    hours_by_day(value_at(data, ("shop", "open")))
    for key in ("orders", "batch", "start"):
        to_cell("date", value_at(data, ("run", key)))


def test_every_mutant_is_refused_in_words_or_shown_and_given_back(pytestconfig: pytest.Config) -> None:
    examples = read_examples()
    counts: Counter[str] = Counter()
    findings: dict[int, str] = {}
    for number in range(pytestconfig.getoption("--mutants")):
        try:
            draft = take(mutate(number, examples))
            wrong = [] if isinstance(draft, str) else list(find_wrong(draft, is_drawn=number % 10 == 0))
        except Exception:  # whatever comes out is what is looked for
            findings[number] = traceback.format_exc(limit=-4)
            continue
        counts["refused" if isinstance(draft, str) else "faulty" if draft.faults else "good"] += 1
        if isinstance(draft, str) and not draft.startswith(("mutant.toml", "orders.csv")):
            wrong.append(f"is refused without its name: {draft}")
        if wrong:
            findings[number] = "; ".join(wrong)
    assert findings == {}
    assert min(counts["refused"], counts["faulty"], counts["good"]) > 0


def _draw(page: str, text: bytes, beside: dict[str, bytes]) -> None:
    import streamlit

    from shopsim.app.drafts import read_upload
    from shopsim.app.main import draw_page
    from shopsim.app.state import open_session, replace_draft

    open_session()
    if "begun" not in streamlit.session_state:
        streamlit.session_state["begun"] = True
        replace_draft(read_upload(text, "mutant.toml"), "mutant.toml", beside)
    draw_page(page)


@pytest.mark.slow
def test_pages_draw_mutants_without_a_traceback_and_leave_their_text_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from shopsim.app.state import find_keeper

    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path))
    examples = read_examples()
    faulty = [
        number for number in range(300) if isinstance(draft := take(mutate(number, examples)), Draft) and draft.faults
    ]
    assert len(faulty) > DRAWN
    for number in faulty[:DRAWN]:
        mutant = mutate(number, examples)
        for name in ("start", "shop", "piece", "orders"):
            page = AppTest.from_function(_draw, args=(name, mutant.text, dict(mutant.beside)), default_timeout=60).run()
            assert not page.exception, f"mutant {number} on {name}: {page.exception[0].value}"
            kept = find_keeper().fetch(page.session_state["shopsim token"])
            assert kept is not None
            assert kept.draft is not None
            assert kept.draft.text == read_upload(mutant.text, "mutant.toml"), f"mutant {number} on {name}"
            if kept.draft.data is not None:
                page.run()
                assert not page.exception
