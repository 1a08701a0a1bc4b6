"""Whatever rows of an operations list are kept, moved and added, the file says what was asked for and leaves the rest."""

from __future__ import annotations

import tomllib
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from shopsim.scenario.list_edits import RowEdit, edit_list


@given(st.data())
def test_any_choice_of_rows_says_what_was_asked_for_and_leaves_the_rest(data: st.DataObject) -> None:
    name = data.draw(st.sampled_from(["counter-stools.toml", "serving-trays.toml", "wall-cabinets.toml"]))
    text = (Path(__file__).parents[2] / "scenarios" / name).read_text(encoding="utf-8")
    before = tomllib.loads(text)
    where = ("design", "operations")
    old = before["design"]["operations"]
    order = data.draw(st.permutations(range(len(old))))
    kept = order[: data.draw(st.integers(1, len(old)))]
    rows: list[RowEdit] = [RowEdit(number, {}) for number in kept]
    wanted = [old[number] for number in kept]
    at = data.draw(st.integers(0, len(kept)))
    rows.insert(at, RowEdit(None, {"name": "one more", "work": "5 min"}))
    wanted.insert(at, {"name": "one more", "work": "5 min"})
    edited = edit_list(text, where, rows)
    after = tomllib.loads(edited)
    assert after["design"]["operations"] == wanted
    before["design"]["operations"] = after["design"]["operations"] = []
    assert after == before
    if len(kept) == len(old):
        remarks = [line.partition("#")[2] for line in text.splitlines() if "#" in line]
        assert all(remark in edited for remark in remarks)
