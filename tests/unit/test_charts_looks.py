"""It holds that charts keep their look whatever the global default is, and that colour never tells anything alone."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import numpy as np
import plotly.graph_objects as go
import plotly.io as pio
import pytest

from shopsim.charts import THEMES, how_to_read
from shopsim.charts.chart_style import (
    build_template,
    escape_text,
    fade,
    finish,
    legend_rows,
    new_figure,
    whole_ticks,
    wrap_label,
)
from shopsim.charts.theme import DASHES, MARKERS, MARKS, PATTERNS, find_theme

# Machado, Oliveira, Fernandes 2009, "A physiologically-based model for simulation of color vision deficiency",
# IEEE Trans. Vis. Comput. Graph. 15(6), severity 1.0; applied to linear RGB.
SEEN = {
    "usual": np.eye(3),
    "deuteranopia": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "protanopia": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
}
#: sRGB to XYZ with white D65 (IEC 61966-2-1).
TO_XYZ = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
)


def linear(colour: str) -> np.ndarray:
    part = np.array([int(colour[place : place + 2], 16) for place in (1, 3, 5)]) / 255
    return np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4)


def contrast(one: str, other: str) -> float:
    """Contrast ratio after WCAG 2.2, definition of relative luminance."""
    low, high = sorted(float(linear(colour) @ np.array([0.2126, 0.7152, 0.0722])) for colour in (one, other))
    return (high + 0.05) / (low + 0.05)


def lab(colour: str, seen: np.ndarray) -> np.ndarray:
    """CIELAB 1976 of a colour as it is seen."""
    share = TO_XYZ @ np.clip(seen @ linear(colour), 0, 1) / np.array([0.95047, 1.0, 1.08883])
    f = np.where(share > 0.008856, np.cbrt(share), 7.787 * share + 16 / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.fixture
def other_default() -> Iterator[None]:
    """A global default of placeholder colours, as a page's own theme sets it."""
    before = pio.templates.default
    pio.templates["placeholders"] = go.layout.Template(
        layout={"colorway": ["#000001", "#000002"], "paper_bgcolor": "#000003", "font": {"color": "#000004"}}
    )
    pio.templates.default = "placeholders"
    yield
    pio.templates.default = before
    del pio.templates["placeholders"]


def test_the_contrast_of_black_and_white_is_21_and_of_767676_the_least_for_text() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("theme", THEMES)
def test_text_stands_out_from_the_ground_and_from_shaded_times(theme: str) -> None:
    look = find_theme(theme)
    for text in (look.text, look.quiet):
        assert contrast(text, look.ground) >= 4.5
    assert contrast(look.text, look.shade) >= 4.5


@pytest.mark.parametrize("theme", THEMES)
def test_series_stand_out_from_the_ground(theme: str) -> None:
    look = find_theme(theme)
    assert [colour for colour in look.series if contrast(colour, look.ground) < 3] == []


@pytest.mark.parametrize("seen", SEEN)
@pytest.mark.parametrize("theme", THEMES)
def test_any_two_series_are_told_apart(theme: str, seen: str) -> None:
    for one, other in itertools.combinations(find_theme(theme).series, 2):
        assert np.linalg.norm(lab(one, SEEN[seen]) - lab(other, SEEN[seen])) >= 20, (one, other)


def test_a_red_and_a_green_that_look_alike_to_some_would_not_pass() -> None:
    one, other = "#c0392b", "#6b8e23"
    apart = {name: float(np.linalg.norm(lab(one, seen) - lab(other, seen))) for name, seen in SEEN.items()}
    assert apart["usual"] > 60
    assert apart["deuteranopia"] < 30


def test_series_differ_in_dash_marker_and_pattern_as_well() -> None:
    n = len(find_theme("light").series)
    assert len(find_theme("dark").series) == n
    for kinds in (DASHES, MARKERS, PATTERNS):
        assert len(set(kinds)) >= n


def test_states_that_stand_in_one_chart_differ_in_their_pattern() -> None:
    use = ("working", "set-up", "taking clamps off", "held while curing", "held half done", "idle", "closed", "away")
    timeline = ("hands-on", "taking clamps off", "in clamps", "curing", "nobody needed")
    for names in (use, timeline):
        patterns = [MARKS[name].pattern for name in names]
        assert len(set(patterns)) == len(patterns)


def test_causes_of_waiting_differ_in_colour_or_pattern() -> None:
    use = ("working", "set-up", "taking clamps off", "held while curing", "held half done", "idle", "closed", "away")
    causes = [name for name in MARKS if name not in {*use, "nobody needed"}]
    looks = [(MARKS[name].colour, MARKS[name].pattern) for name in causes]
    assert len(causes) >= 12
    assert len(set(looks)) == len(looks)


def test_the_template_is_ours_and_is_not_registered() -> None:
    before = set(pio.templates)
    default = pio.templates.default
    figure = new_figure(find_theme("light"), "Some title", "Read it so.")
    assert set(pio.templates) == before
    assert pio.templates.default == default
    assert figure.layout.template.layout.paper_bgcolor == "#ffffff"
    assert build_template(find_theme("dark")).layout.font.color == find_theme("dark").text


def test_another_global_default_changes_nothing(other_default: None) -> None:
    figure = go.Figure()
    assert figure.layout.template.layout.paper_bgcolor == "#000003"  # the default is at work
    ours = finish(new_figure(find_theme("light"), "Some title", "Read it so."), 200)
    assert "#00000" not in str(ours.to_json())


def test_a_theme_that_is_not_there_is_refused() -> None:
    with pytest.raises(ValueError, match='theme "blue" is not known · choose light or dark'):
        find_theme("blue")


def test_a_figure_says_how_it_is_read() -> None:
    assert how_to_read(new_figure(find_theme("dark"), "Some title", "Read it so.")) == "Read it so."


def test_markup_in_a_name_stays_text() -> None:
    assert escape_text('<b>saw</b> & "jig"') == '&lt;b&gt;saw&lt;/b&gt; &amp; "jig"'
    assert new_figure(find_theme("light"), "<i>x</i>", "").layout.title.text == "&lt;i&gt;x&lt;/i&gt;"


def test_a_long_name_is_broken_and_then_cut() -> None:
    assert wrap_label("cut the long mortises of the side frames") == "cut the long<br>mortises of the<br>side frames"
    assert wrap_label("a" * 100, 10, 2) == "aaaaaaaaaa<br>aaaaaaaaa…"
    assert wrap_label("") == ""


def test_a_legend_takes_one_row_where_it_fits_and_columns_of_one_width_where_not() -> None:
    assert legend_rows(["idle", "working"], 300) == 1
    assert legend_rows(["working", "set-up", "taking clamps off", "held while curing", "idle"], 330) == 3
    assert legend_rows(["a very long name that takes a whole row"] * 3, 200) == 3


def test_the_room_under_a_plot_grows_with_legend_and_notes() -> None:
    plain = finish(new_figure(find_theme("light"), "t", "r").add_scatter(x=[1], y=[1], name="a"), 200)
    assert plain.layout.showlegend is False
    both = new_figure(find_theme("light"), "t", "r")
    both.add_scatter(x=[1], y=[1], name="a")
    both.add_scatter(x=[1], y=[1], name="b")
    finish(both, 200, notes="Some of it is left out.")
    assert both.layout.showlegend is True
    assert both.layout.margin.b > plain.layout.margin.b
    assert both.layout.height - both.layout.margin.b - both.layout.margin.t == 200
    assert both.layout.annotations[0].text == "Some of it is left out."


@pytest.mark.parametrize(("most", "step"), [(0, 1), (3, 1), (7, 1), (8, 2), (21, 5), (70, 10), (900, 200)])
def test_counts_have_ticks_at_round_whole_numbers(most: int, step: int) -> None:
    assert whole_ticks(most)["dtick"] == step


def test_a_faded_colour_keeps_its_hue() -> None:
    assert fade("#223876", 0.25) == "rgba(34,56,118,0.25)"
