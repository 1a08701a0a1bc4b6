"""It holds that charts of one run draw what its tables say: bars as long as they last, shares that sum to the whole."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pandas as pd
import plotly.io as pio
import pytest

from shopsim import RunResult, run_once
from shopsim.charts import THEMES, build_clamps_in_use, build_timeline, build_use, build_waiting
from shopsim.charts.timeline_chart import MAX_BARS, join_near
from shopsim.scenario import load_scenario
from shopsim.study.spans import list_closed, list_spans
from shopsim.study.use import measure_use

MS = np.timedelta64(1, "ms")


@pytest.fixture(scope="module")
def stools() -> RunResult:
    return run_once(load_scenario("scenarios/counter-stools.toml"), seed=1)


@pytest.fixture(scope="module")
def cabinets() -> RunResult:
    return run_once(load_scenario("scenarios/wall-cabinets.toml"), seed=1)


def bars_of(figure: Any) -> list[tuple[str, float, Any, float]]:
    """(state, row rounded, base, length in ms) of every bar."""
    return [
        (trace.name, round(float(y)), pd.Timestamp(base), float(x))
        for trace in figure.data
        for y, base, x in zip(trace.y, trace.base, trace.x, strict=True)
    ]


def looks_of(figure: Any) -> list[tuple[str, str, str]]:
    """What a reader without colour sees of each trace that has a name in the legend: pattern, dash, marker."""
    found = []
    for trace in figure.data:
        if trace.type == "bar":
            found.append((str(trace.marker.pattern.shape), "", ""))
        elif trace.showlegend is not False:
            found.append(("", str(trace.line.dash), str(trace.marker.symbol)))
    return found


# ---- the timeline
def test_every_bar_of_a_timeline_is_as_long_as_its_span(stools: RunResult) -> None:
    spans, closed = list_spans(stools), list_closed(stools)
    drawn = sorted((state, base, length) for state, _, base, length in bars_of(build_timeline(spans, closed, "piece")))
    mine = spans[spans["piece"].notna()]
    wanted = sorted(
        (row.state, row.since, (row.until - row.since) / MS) for row in mine.itertuples() if row.until > row.since
    )
    assert [bar[0] for bar in drawn] == [bar[0] for bar in wanted]
    assert [bar[1] for bar in drawn] == [bar[1] for bar in wanted]
    assert [bar[2] for bar in drawn] == pytest.approx([bar[2] for bar in wanted])


@pytest.mark.parametrize("rows", ["piece", "batch", "worker", "station"])
def test_bars_of_one_state_stand_in_the_row_they_belong_to(cabinets: RunResult, rows: str) -> None:
    spans = list_spans(cabinets)
    figure = build_timeline(spans, list_closed(cabinets), rows)  # type: ignore[arg-type]
    total = sum(length for _, _, _, length in bars_of(figure))
    if rows == "worker":
        hands = spans[spans["worker"] != ""]
        wanted = sum((row.until - row.since) / MS * len(row.worker.split(" + ")) for row in hands.itertuples())
    else:
        column = spans["station"] != "" if rows == "station" else spans[rows].notna()
        wanted = ((spans["until"] - spans["since"])[column].to_numpy() / MS).sum()
    assert total == pytest.approx(wanted)


def test_one_worker_never_has_two_things_in_hand(cabinets: RunResult) -> None:
    figure = build_timeline(list_spans(cabinets), list_closed(cabinets), "worker")
    by_row: dict[float, list[tuple[pd.Timestamp, float]]] = {}
    for _, row, base, length in bars_of(figure):
        by_row.setdefault(row, []).append((base, length))
    assert len(by_row) == 2
    for bars in by_row.values():
        bars.sort()
        for (since, length), (later, _) in itertools.pairwise(bars):
            assert since + pd.Timedelta(milliseconds=length) <= later + pd.Timedelta(seconds=1)


def test_states_of_a_timeline_differ_in_pattern_and_stand_in_lanes_of_their_own(stools: RunResult) -> None:
    figure = build_timeline(list_spans(stools), list_closed(stools), "piece")
    assert {trace.name for trace in figure.data} == {"hands-on", "in clamps", "taking clamps off", "curing"}
    patterns = [trace.marker.pattern.shape for trace in figure.data]
    assert len(set(patterns)) == len(patterns)
    lanes = {trace.name: {round(float(y) % 1, 3) for y in trace.y} for trace in figure.data}
    assert lanes["hands-on"].isdisjoint(lanes["in clamps"] | lanes["curing"])
    assert lanes["in clamps"].isdisjoint(lanes["curing"])


def test_nights_and_closed_days_are_one_shape_behind_everything(stools: RunResult) -> None:
    closed = list_closed(stools)
    figure = build_timeline(list_spans(stools), closed, "worker")
    (shape,) = figure.layout.shapes
    assert shape.layer == "below"
    assert shape.path.count("M") == len(closed)
    assert f"M{closed['since'].iloc[1]:%Y-%m-%d_%H:%M:%S},0L" in shape.path


def test_the_first_view_can_be_a_part_of_the_run(stools: RunResult) -> None:
    week = (pd.Timestamp("2027-01-18"), pd.Timestamp("2027-01-25"))
    figure = build_timeline(list_spans(stools), list_closed(stools), "worker", between=week)
    assert tuple(pd.Timestamp(end) for end in figure.layout.xaxis.range) == week


def many_spans(pieces: int, tasks: int) -> pd.DataFrame:
    """So many pieces of so many tasks of 20 minutes, half an hour apart, each piece an hour later."""
    number = np.arange(pieces * tasks)
    since = np.datetime64("2027-01-11T08:00", "us") + (number // tasks * 60 + number % tasks * 30) * np.timedelta64(
        1, "m"
    )
    return pd.DataFrame(
        {
            "task": number + 1,
            "operation": pd.Series(["plane"] * number.size, dtype="str"),
            "batch": pd.array(number // tasks // 10 + 1, dtype="Int64"),
            "piece": pd.array(number // tasks + 1, dtype="Int64"),
            "state": pd.Series(np.where(number % 2 == 0, "hands-on", "curing"), dtype="str"),
            "worker": pd.Series(np.where(number % 2 == 0, "maker", ""), dtype="str"),
            "station": pd.Series(["bench"] * number.size, dtype="str"),
            "since": since,
            "until": since + np.timedelta64(20, "m"),
        }
    )


NEVER_CLOSED = pd.DataFrame({"since": pd.to_datetime([]), "until": pd.to_datetime([])})


def test_six_hundred_tasks_are_drawn_one_by_one() -> None:
    figure = build_timeline(many_spans(30, 20), NEVER_CLOSED, "piece")
    assert sum(len(trace.x) for trace in figure.data) == 600
    assert not figure.layout.annotations


@pytest.mark.parametrize("rows", ["piece", "worker", "station"])
def test_twenty_thousand_tasks_are_drawn_together_and_the_figure_says_so(rows: str) -> None:
    figure = build_timeline(many_spans(500, 40), NEVER_CLOSED, rows)  # type: ignore[arg-type]
    assert 0 < sum(len(trace.x) for trace in figure.data) <= MAX_BARS
    note = figure.layout.annotations[-1].text.replace("<br>", " ")
    assert "those that lie close together are drawn as one" in note
    assert ("500 pieces are too many rows: drawn by batch" in note) == (rows == "piece")


def test_rows_that_are_left_out_are_counted_in_the_figure() -> None:
    spans = many_spans(70, 4).assign(batch=lambda table: table["piece"])
    figure = build_timeline(spans, NEVER_CLOSED, "batch")
    assert max(row for _, row, _, _ in bars_of(figure)) == 59
    assert "The first 60 of 70 rows." in figure.layout.annotations[-1].text.replace("<br>", " ")


def test_joining_bars_loses_no_time_but_small_gaps() -> None:
    spans = many_spans(500, 40).assign(row=0)
    joined = join_near(spans)
    assert len(joined) < len(spans)
    assert joined["since"].min() == spans["since"].min()
    assert joined["until"].max() == spans["until"].max()
    cell = (spans["until"].max() - spans["since"].min()) / 2000
    for _, group in joined.groupby("state"):
        gaps = group["since"].to_numpy()[1:] - group["until"].to_numpy()[:-1]
        assert (gaps > cell.to_numpy()).all()


def test_an_empty_run_gives_an_empty_timeline() -> None:
    figure = build_timeline(many_spans(1, 1).head(0), NEVER_CLOSED, "piece")
    assert len(figure.data) == 0
    assert figure.layout.height > 0


# ---- use
@pytest.mark.parametrize(("when", "column"), [("open hours", "open_share"), ("whole run", "share")])
def test_bars_of_use_are_the_shares_of_the_table_and_sum_to_all(cabinets: RunResult, when: Any, column: str) -> None:
    use = measure_use(cabinets)
    figure = build_use(use, when=when)
    drawn: dict[tuple[float, str], float] = {}
    total: dict[float, float] = {}
    for trace in figure.data:
        for y, x in zip(trace.y, trace.x, strict=True):
            drawn[round(float(y)), trace.name] = float(x)
            total[round(float(y))] = total.get(round(float(y)), 0.0) + float(x)
    keys = list(use[["kind", "name"]].drop_duplicates().itertuples(index=False, name=None))
    assert len(total) == len(keys)
    assert all(value == pytest.approx(100.0) for value in total.values())
    for row in use.itertuples():
        assert drawn.get((keys.index((row.kind, row.name)), row.state), 0.0) == pytest.approx(
            getattr(row, column) * 100
        )


def test_every_thing_has_its_name_over_its_bar(stools: RunResult) -> None:
    figure = build_use(measure_use(stools))
    names = [note.text for note in figure.layout.annotations]
    assert names[:2] == ["maker (worker)", "cut-off saw (station)"]
    assert "bar clamp" in names
    assert [note.y for note in figure.layout.annotations] == [row - 0.5 for row in range(len(names))]


def test_clamps_in_use_step_as_the_run_says(stools: RunResult) -> None:
    figure = build_clamps_in_use(stools.use, list_closed(stools), "bar clamp")
    line, owned = figure.data
    rows = stools.use[(stools.use["kind"] == "clamp") & (stools.use["name"] == "bar clamp")]
    assert line.line.shape == "hv"
    assert max(line.y) == rows["in_use"].max()
    assert set(owned.y) == {10}
    assert owned.line.dash == "dash"
    for row in rows.itertuples():
        place = max(n for n, at in enumerate(line.x) if pd.Timestamp(at) <= row.since)
        assert line.y[place] == row.in_use
    assert len(figure.layout.shapes) == 1


def test_clamps_that_are_not_there_give_an_empty_chart(stools: RunResult) -> None:
    assert len(build_clamps_in_use(stools.use, list_closed(stools), "no such clamp").data) == 0


# ---- waiting
@pytest.mark.parametrize("by", ["piece", "batch"])
def test_the_parts_of_a_bar_sum_to_the_elapsed_days(cabinets: RunResult, by: str) -> None:
    figure = build_waiting(cabinets.holdups, by)
    total: dict[int, float] = {}
    for trace in figure.data:
        for y, x in zip(trace.y, trace.x, strict=True):
            total[int(y)] = total.get(int(y), 0.0) + float(x)
    wanted = cabinets.pieces.groupby(by)["elapsed_min"].mean() / 1440
    assert total == pytest.approx({int(key): value for key, value in wanted.items()})


def test_small_causes_are_drawn_together_and_named_where_one_points(cabinets: RunResult) -> None:
    figure = build_waiting(cabinets.holdups)
    (other,) = [trace for trace in figure.data if trace.name == "other causes"]
    assert any("wet finish" in text for text in other.hovertext)
    assert "Causes of less than 1 % each are drawn together." in figure.layout.annotations[0].text.replace("<br>", " ")


def test_more_pieces_than_can_be_read_are_drawn_by_batch() -> None:
    holdups = pd.DataFrame(
        {"piece": np.arange(1, 201), "batch": np.arange(200) // 10 + 1, "operation": "plane", "part": "hands-on",
         "detail": "", "minutes": 1440.0}
    )  # fmt: skip
    figure = build_waiting(holdups)
    assert list(figure.data[0].y) == list(range(1, 21))
    assert list(figure.data[0].x) == pytest.approx([1.0] * 20)
    assert "200 pieces are too many bars" in figure.layout.annotations[0].text


# ---- all of them
def all_charts(run: RunResult, theme: str) -> list[Any]:
    spans, closed, use = list_spans(run), list_closed(run), measure_use(run)
    return [
        *(build_timeline(spans, closed, rows, theme) for rows in ("piece", "batch", "worker", "station")),
        build_use(use, theme),
        build_use(use, theme, "whole run"),
        build_clamps_in_use(run.use, closed, run.plan.worklist.clamp_names[0], theme),
        build_waiting(run.holdups, "piece", theme),
        build_waiting(run.holdups, "batch", theme),
    ]


@pytest.mark.parametrize("theme", THEMES)
def test_every_chart_has_title_units_and_more_than_colour(cabinets: RunResult, theme: str) -> None:
    for figure in all_charts(cabinets, theme):
        assert figure.layout.title.text
        assert len(figure.layout.title.text) <= 40  # fits a phone
        assert figure.layout.xaxis.title.text
        assert figure.layout.meta["how_to_read"].endswith(".")
        looks = looks_of(figure)
        if "Where the time" not in figure.layout.title.text:
            assert len(set(looks)) == len(looks), figure.layout.title.text
        else:  # more causes than patterns: each pair of colour and pattern is there once, in the order of the legend
            pairs = {(trace.marker.color, trace.marker.pattern.shape) for trace in figure.data}
            assert len(pairs) == len(figure.data)


def test_no_chart_depends_on_the_global_default(cabinets: RunResult, monkeypatch: pytest.MonkeyPatch) -> None:
    plain = [figure.to_json() for figure in all_charts(cabinets, "light")]
    monkeypatch.setattr(pio.templates, "default", "ggplot2")
    assert [figure.to_json() for figure in all_charts(cabinets, "light")] == plain
    assert not any("#00000" in str(text) for text in plain)
