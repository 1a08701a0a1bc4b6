"""It holds that a drawn network has every operation below all it comes after, and every arrow."""

from __future__ import annotations

import itertools
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from shopsim.charts import build_network
from shopsim.charts.layers import place_in_layers

STOOL = [
    ("mill legs", (), False, False),
    ("mill seat", (), False, False),
    ("glue frame", ("mill legs",), True, False),
    ("fit seat", ("glue frame", "mill seat"), False, False),
    ("first coat", ("fit seat",), False, True),
    ("laminate", ("first coat",), True, True),
]


def traces(figure: Any) -> dict[str, Any]:
    return {trace.name: trace for trace in figure.data if trace.showlegend is not False}


def test_the_shape_says_what_goes_into_clamps_and_what_is_wet() -> None:
    figure = build_network(STOOL)
    shapes = {name: trace.marker.symbol for name, trace in traces(figure).items()}
    assert shapes == {
        "by hand or machine": "circle",
        "goes into clamps": "square",
        "wet, dries": "diamond",
        "clamps, and dries": "hexagon",
    }
    assert len(traces(figure)["by hand or machine"].x) == 3
    assert sorted(note.text for note in figure.layout.annotations) == sorted(name for name, *_ in STOOL)


def test_arrows_run_down_the_page_from_what_comes_before() -> None:
    figure = build_network(STOOL)
    place = {note.text: (note.x, note.y) for note in figure.layout.annotations}
    lines = {((trace.x[0], trace.y[0]), (trace.x[-1], trace.y[-1])) for trace in figure.data if trace.mode == "lines"}
    assert lines == {(place[before], place[name]) for name, after, _, _ in STOOL for before in after}
    assert all(since[1] < until[1] for since, until in lines)


def test_a_link_over_several_layers_is_led_around_the_nodes_between() -> None:
    place = place_in_layers([("a", ()), ("b", ("a",)), ("c", ("b",)), ("d", ("c", "a"))])
    (long,) = [edge for edge in place.edges if len(edge) > 2]
    assert [y for _, y in long] == [0, 1, 2, 3]
    assert all(x != place.at[name][0] for (x, _), name in zip(long[1:-1], "bc", strict=True))


@given(st.lists(st.sets(st.integers(0, 11), max_size=4), min_size=1, max_size=12))
def test_every_operation_stands_below_all_it_comes_after_and_on_a_place_of_its_own(befores: list[set[int]]) -> None:
    nodes = [(f"n{n}", tuple(f"n{k}" for k in sorted(before) if k < n)) for n, before in enumerate(befores)]
    place = place_in_layers(nodes)
    for name, after in nodes:
        assert all(place.at[before][1] < place.at[name][1] for before in after)
    assert len(place.edges) == sum(len(after) for _, after in nodes)
    points = [*place.at.values(), *(point for edge in place.edges for point in edge[1:-1])]
    for one, other in itertools.combinations(points, 2):
        assert one[1] != other[1] or abs(one[0] - other[0]) > 0.4
    assert not place.circular
    assert not place.unknown


def test_a_circle_is_drawn_without_the_arrow_that_closes_it_and_said() -> None:
    figure = build_network([("a", ("b",), False, False), ("b", ("a",), False, False)])
    note = figure.layout.annotations[-1].text.replace("<br>", " ")
    assert "come after one another in a circle" in note
    assert sum(trace.mode == "lines" for trace in figure.data) == 1


def test_an_operation_that_comes_after_itself_is_drawn_once() -> None:
    figure = build_network([("a", ("a",), False, False)])
    assert sum(trace.mode == "lines" for trace in figure.data) == 0
    assert len(traces(figure)["by hand or machine"].x) == 1


def test_names_that_are_not_there_are_said() -> None:
    figure = build_network([("a", ("no such",), False, False)])
    assert "Not in the list: no such." in figure.layout.annotations[-1].text


def test_more_operations_than_can_be_read_are_cut_and_counted() -> None:
    chain = [(f"step {n}", (f"step {n - 1}",) if n else (), False, False) for n in range(130)]
    figure = build_network(chain)
    assert "The first 120 of 130 operations." in figure.layout.annotations[-1].text.replace("<br>", " ")


def test_nothing_gives_an_empty_chart() -> None:
    assert traces(build_network([])) == {}
