"""A slip of the pen in one value does not hide what else is wrong with a file."""

from __future__ import annotations

from pathlib import Path

import pytest

from shopsim.scenario import read_scenario, read_scenario_text
from shopsim.scenario.reading_on import MAX_FAULTS, MAX_LETTERS, find_marks, read_on

TEXT = """\
title = “Blanket boxes”
[shop]
open = { tue = "18:00-21:00", sat = 9:00 }
closed = [2027-02-30]
[[shop.workers]]
name: "maker"
// a remark
[[shop.clamps]]
name = "bar clamp"
reach = "30 in"
count = 4,5
[design]
name = "blanket box"
operations = [
  { name = "cut", work = 30 min },
  { name = "glue", work = "20 min", clamps = [{ count = 6, reach = 28 in }], in_clamps = "2 h", afer = ["cut"] },
  { name = "oil", work = "5 mn", cure = 12 h, rest = "shelf" }, # two of them on one line, and two others
]
[run]
orders = 8
orders = 9
batch = five
start = 2027-13-01
"""


def test_all_slips_of_a_file_and_all_its_other_faults_are_told_at_once() -> None:
    assert [str(fault) for fault in read_scenario_text(TEXT, "boxes.toml").faults] == [
        'boxes.toml:1 · the quotes are curly · write them straight, like "this"',
        'boxes.toml:3 · 9:00 is not in quotes · write "9:00"',
        "boxes.toml:4 · a date is not in the calendar · write a date that exists, like 2027-01-08",
        "boxes.toml:6 · a colon stands where an = belongs · write name = …",
        "boxes.toml:7 · a remark begins with // · begin it with #",
        "boxes.toml:11 · 4,5 has a comma in it · write it with a point, like 4.5",
        'boxes.toml:15 · 30 min is not in quotes, as every value with a unit is · write "30 min"',
        'boxes.toml:16 · 28 in is not in quotes, as every value with a unit is · write "28 in"',
        'boxes.toml:16 · design.operations "glue" · afer · is not a known key · write "after"',
        'boxes.toml:17 · 12 h is not in quotes, as every value with a unit is · write "12 h"',
        'boxes.toml:17 · design.operations "oil" · work · "mn" in "5 mn" is not a unit of time · use one of s, sec, m, min, '
        "h, hr, hrs, d, day, w, wk",
        'boxes.toml:17 · design.operations "oil" · rest · there is no rack "shelf" · add it under [[shop.racks]]',
        'boxes.toml:21 · "orders" is given twice · keep one of them',
        'boxes.toml:22 · five is text and not in quotes · write "five"',
        "boxes.toml:23 · 2027-13-01 is not a date in the calendar · write a date that exists, like 2027-01-08",
    ]


def test_once_the_slips_are_mended_nothing_new_comes_up_but_what_hung_on_them() -> None:
    mended = TEXT
    for wrong, right in (
        ("“Blanket boxes”", '"Blanket boxes"'), ("sat = 9:00", 'sat = "9:00-12:00"'), ("02-30", "02-20"), ("name:", "name ="),
        ("// a", "# a"), ("4,5", "4"), ("30 min }", '"30 min" }'), ("28 in }", '"28 in" }'), ("12 h,", '"12 h",'),
        ("orders = 9\n", ""), ("five", "4"), ("2027-13-01", "2027-01-11"), ("afer", "after"), ("5 mn", "5 min"),
        (', rest = "shelf"', ""),
    ):  # fmt: skip
        assert wrong in mended
        mended = mended.replace(wrong, right)
    assert [fault.rule for fault in read_scenario_text(mended).faults] == [
        "needs 6 clamps of 28 in or more, the shop owns 4"  # how many there are, and their reach, could not be read
    ]


@pytest.mark.parametrize(
    "text",
    [
        "a = [1,\nb = 2\n",  # noticed on another line than it begins
        "[shop\nopen = 5 h\n",
        "a = 1 # none\rb = 2",
        'a = """\nnever closed\n',
        "a = nobody",
    ],
)
def test_where_it_cannot_be_told_what_a_slip_takes_in_reading_stops(text: str) -> None:
    left, data, found = read_on(text)
    assert (left, data, len(found)) == (text, None, 1)


def test_a_text_of_many_slips_or_of_great_length_is_not_read_on_for_ever() -> None:
    many = "".join(f"key{n} = {n} h\n" for n in range(100))
    assert len(read_on(many)[2]) == MAX_FAULTS
    assert read_on(many)[1] is None
    long = "key = 5 h\nother = 6 h\n" + "# remark\n" * (MAX_LETTERS // 9 + 1)
    assert len(read_on(long)[2]) == 1


def test_what_is_read_on_keeps_its_lines_and_marks_what_could_not_be_read() -> None:
    text, data, found = read_on('a = 5 h # five\n[b]\nc = { d = 6 h, e = "x, y" }\n')
    assert len(found) == 2
    assert data is not None
    assert text.count("\n") == 3
    assert list(find_marks(data)) == [("a",), ("b", "c", "d")]
    assert data["b"]["c"]["e"] == "x, y"


def test_slips_in_a_table_that_stands_in_a_file_of_its_own_are_told_in_the_same_way(trays: Path) -> None:
    (trays.parent / "our-shop.toml").write_text(
        '[[workers]]\nname = "maker"\n[[clamps]]\nname = "bar clamp"\ncount = 4,5\nprice = -3\nreach = 24 in\n',
        encoding="utf-8",
    )
    text = 'shop = "our-shop.toml"\ntitle = trays\n' + trays.read_text(encoding="utf-8").split("[design]", 1)[1].join(
        ["[design]", ""]
    )
    trays.write_text(text, encoding="utf-8")
    told = [(fault.file, fault.line, fault.rule) for fault in read_scenario(trays).faults]
    for file, line, rule in (
        ("our-shop.toml", 5, "4,5 has a comma in it"),
        ("our-shop.toml", 6, "-3 is less than 0"),
        ("our-shop.toml", 7, "24 in is not in quotes, as every value with a unit is"),
    ):
        assert any(found[0].endswith(file) and found[1] == line and found[2] == rule for found in told), (rule, told)
    assert any(line == 2 and "trays is text and not in quotes" in rule for _, line, rule in told)
