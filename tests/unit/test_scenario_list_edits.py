"""It holds that rows of a list are changed, added, moved and taken out, and every comment stays where it belongs."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest

from shopsim.errors import InputError
from shopsim.scenario.list_edits import RowEdit, edit_list

BLOCKS = """\
# of the whole file
[shop]
open = "always" # day and night

[[shop.clamps]] # the best ones
name = "bar clamp" # old
count = 4

# above the bands
[[shop.clamps]]
name = "band clamp"
count = 2 # borrowed

[run]
orders = 3 # few
"""
INLINE = """\
[shop]
clamps = [
  { name = "bar clamp", count = 4 }, # old
  { name = "band clamp", count = 2 }, # borrowed
]
"""
CLAMPS = ("shop", "clamps")


def keep(*numbers: int) -> list[RowEdit]:
    return [RowEdit(number, {}) for number in numbers]


def clamps_of(text: str) -> list[dict[str, Any]]:
    return list(tomllib.loads(text)["shop"].get("clamps", []))


def test_rows_as_they_are_leave_the_text_letter_for_letter() -> None:
    assert edit_list(BLOCKS, CLAMPS, keep(0, 1)) == BLOCKS
    assert edit_list(INLINE, CLAMPS, keep(0, 1)) == INLINE


def test_a_changed_value_keeps_every_comment() -> None:
    text = edit_list(BLOCKS, CLAMPS, [RowEdit(0, {"count": 16}), RowEdit(1, {"price": 12.5, "count": None})])
    assert clamps_of(text) == [{"name": "bar clamp", "count": 16}, {"name": "band clamp", "price": 12.5}]
    for comment in ("# of the whole file", "# day and night", "# the best ones", "# old", "# above the bands", "# few"):
        assert comment in text


@pytest.mark.parametrize("text", [BLOCKS, INLINE])
def test_rows_are_moved_put_in_and_taken_out(text: str) -> None:
    moved = edit_list(text, CLAMPS, keep(1, 0))
    assert [row["name"] for row in clamps_of(moved)] == ["band clamp", "bar clamp"]
    more = edit_list(text, CLAMPS, [*keep(0), RowEdit(None, {"name": "spring clamp", "count": 9}), *keep(1)])
    assert [row["name"] for row in clamps_of(more)] == ["bar clamp", "spring clamp", "band clamp"]
    fewer = edit_list(text, CLAMPS, keep(1))
    assert clamps_of(fewer) == [{"name": "band clamp", "count": 2}]
    assert clamps_of(edit_list(text, CLAMPS, [])) == []


def test_comments_go_with_the_row_that_moves() -> None:
    text = edit_list(BLOCKS, CLAMPS, keep(1, 0))
    lines = text.splitlines()
    assert lines.index("count = 2 # borrowed") < lines.index('name = "bar clamp" # old')
    assert "[[shop.clamps]] # the best ones" in lines
    assert "# above the bands" in lines


def test_a_list_that_is_not_there_begins_within_its_table() -> None:
    text = edit_list('[shop]\nopen = "always" # yes\n\n[run]\norders = 3 # few\n', CLAMPS, [RowEdit(None, {"name": "bar clamp", "count": 1})])  # fmt: skip
    assert tomllib.loads(text) == {
        "shop": {"open": "always", "clamps": [{"name": "bar clamp", "count": 1}]}, "run": {"orders": 3},
    }  # fmt: skip
    assert text.index("[[shop.clamps]]") < text.index("[run]")
    assert "# yes" in text
    assert "# few" in text


@pytest.mark.parametrize(
    ("text", "rows"),
    [
        (BLOCKS, keep(0, 0)),
        (BLOCKS, keep(0, 5)),
        ('shop = "shop.toml"\n', keep(0)),
        ('[shop]\nclamps = "clamps.toml"\n', [RowEdit(None, {"name": "a"})]),
    ],
)
def test_what_cannot_be_edited_is_refused_in_words(text: str, rows: list[RowEdit]) -> None:
    with pytest.raises(InputError, match=" · "):
        edit_list(text, CLAMPS, rows)


LINES = """\
[run.plan]
order = [ # mine
  # the first evening
  { operation = "glue }", batch = 1 }, # borrowed {clamps}
  { operation = "oil" } # rags out
]
"""


@pytest.mark.parametrize(
    ("rows", "lines"),
    [
        ([1, 0], ['{ operation = "oil" }, # rags out', '{ operation = "glue }", batch = 1 }, # borrowed {clamps}']),
        ([1], ['{ operation = "oil" }, # rags out']),
    ],
)
def test_lines_of_a_list_move_with_what_is_noted_behind_them(rows: list[int], lines: list[str]) -> None:
    text = edit_list(LINES, ("run", "plan", "order"), [RowEdit(row, {}) for row in rows])
    expected = ["[run.plan]", "order = [ # mine", "  # the first evening", *(f"  {line}" for line in lines), "]", ""]
    assert text == "\n".join(expected)
