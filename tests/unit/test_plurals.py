"""Several of a thing, as a maker's own names need it."""

from __future__ import annotations

import pytest

from shopsim.plurals import say_more, say_number_of, several


@pytest.mark.parametrize(
    ("one", "more"),
    [
        ("counter stool", "counter stools"),
        ("Box", "Boxes"),
        ("jewelry box", "jewelry boxes"),
        ("bench", "benches"),
        ("Bookshelf", "Bookshelves"),
        ("wall shelf", "wall shelves"),
        ("tray", "trays"),
        ("library", "libraries"),
        ("chest of drawers", "chests of drawers"),
        ("box with a lid", "boxes with a lid"),
        ("stool (low)", "stools (low)"),
        ("side press", "side presses"),
        ("bar clamps", "bar clamps"),
        ("coat-rack", "coat-racks"),
        ("model 3", "model 3"),
        ("short", "short"),
        ("sash clamp from the auction", "sash clamps from the auction"),
        ("staff", "staffs"),
    ],
)
def test_a_name_for_several_is_english(one: str, more: str) -> None:
    assert several(one) == more


def test_a_number_and_its_name_go_together() -> None:
    assert [say_number_of(n, "box") for n in (0, 1, 2, 1537)] == ["0 boxes", "1 box", "2 boxes", "1,537 boxes"]


@pytest.mark.parametrize(
    ("thing", "kind", "added", "said"),
    [
        ("worker", "maker", 1, "one more person like the maker"),
        ("worker", "Kim", 1, "one more person like Kim"),
        ("worker", "me", 2, "2 more people like me"),
        ("rack", "drying rack", 1, "1 more spot on the drying rack"),
        ("rack", "shelf", 4, "4 more spots on the shelf"),
        ("station", "bench", 1, "one more bench"),
        ("station", "bench", 2, "2 more benches"),
    ],
)
def test_more_of_a_thing_is_said_as_a_maker_would(thing: str, kind: str, added: int, said: str) -> None:
    assert say_more(thing, kind, added) == said
