"""It holds that charts of answers draw the numbers of their tables, altered by nothing."""

from __future__ import annotations

import datetime as dt
import re
from typing import Any

import numpy as np
import pandas as pd
import pytest

from shopsim.charts import (
    build_clamp_savings,
    build_clamps_in_use,
    build_delivery,
    build_for_answer,
    build_holdups,
    build_lead_times,
    build_order_counts,
    format_page,
)
from shopsim.charts.delivery_chart import DAY_MS

POSITIONS = pd.DataFrame(
    {
        "batch": ["batches of 5"] * 3 + ["batches of 10"] * 3,
        "position": [1, 2, 3] * 2,
        "lead_days_p10": [10.0, 11, 12, 20, 20, 20],
        "lead_days_p50": [15.0, 16, 17, 25, 25, 25],
        "lead_days_p90": [30.0, 31, 32, 40, 41, 42],
    }
)


def clamp_rows() -> pd.DataFrame:
    """A kind whose second step pays no more and whose third is worse, and another that does nothing."""
    common: dict[str, Any] = {"thing": "clamps", "under": "", "cost": 100.0, "remark": ""}
    rows = [
        ("band clamp", 8, 4, 3.0, 2.5, 3.5, 3.0, True, False, False),
        ("band clamp", 8, 8, 3.2, 2.6, 3.8, 3.2, False, False, False),
        ("band clamp", 8, 12, 1.0, 0.5, 1.5, 3.2, False, False, True),
        ("bar clamp", 2, 1, 0.0, 0.0, 0.0, 0.0, False, False, False),
    ]
    names = (
        "kind", "owned", "added", "average_saved_days", "average_saved_days_low", "average_saved_days_high",
        "best_so_far_days", "pays", "may_pay", "is_worse",
    )  # fmt: skip
    table = pd.DataFrame([dict(zip(names, row, strict=True)) | common for row in rows])
    for end in ("", "_low", "_high"):
        table[f"last_saved_days{end}"] = table[f"average_saved_days{end}"] * 2
    table["average_saved_days_unseen"] = table["last_saved_days_unseen"] = table["kind"] == "bar clamp"
    other = pd.DataFrame([{**table.iloc[0].to_dict(), "thing": "worker", "kind": "maker", "added": 1, "cost": np.nan}])
    return pd.concat([table, other], ignore_index=True)


DELIVERY = pd.DataFrame(
    {
        "position": [1, 2],
        "order": ["A-1", "<b>B</b>"],
        "ship_from": ["2027-02-12", "2027-02-12"],
        "ship_to": ["2027-03-05", "2027-02-12"],
        "window_chance": [0.8, 0.999],
        "promise": ["2027-03-02", "2027-02-12"],
        "chance_kept": [0.81, 0.9],
        "all_kept": ["2027-03-05", "2027-02-16"],
    }
)


# ---- lead times
def test_lead_times_are_medians_with_their_bands() -> None:
    figure = build_lead_times(POSITIONS)
    band, line, _, other = figure.data
    assert list(line.x) == [1, 2, 3]
    assert list(line.y) == [15, 16, 17]
    assert list(band.y) == [30, 31, 32, 12, 11, 10]
    assert (line.line.dash, line.marker.symbol) != (other.line.dash, other.marker.symbol)
    assert line.hovertext[0] == "batches of 5<br>order 1: 15 days (10 to 30)"
    assert figure.layout.yaxis.title.text == "lead time, days"


def test_no_lead_times_give_an_empty_chart() -> None:
    assert len(build_lead_times(POSITIONS.head(0)).data) == 0


# ---- clamps
def test_savings_are_drawn_as_run_with_their_intervals() -> None:
    figure = build_clamp_savings(clamp_rows())
    raw, best, bar, _ = figure.data
    assert list(raw.x) == [0, 4, 8, 12]
    assert list(raw.y) == [0.0, 3.0, 3.2, 1.0]  # the third step stays worse
    assert np.add(raw.y, raw.error_y.array).tolist() == pytest.approx([0.0, 3.5, 3.8, 1.5])
    assert np.subtract(raw.y, raw.error_y.arrayminus).tolist() == pytest.approx([0.0, 2.5, 2.6, 0.5])
    assert list(best.y) == [0.0, 3.0, 3.2, 3.2]
    assert best.line.dash == "dot"
    assert (raw.yaxis, bar.yaxis) == ("y", "y2")


def test_steps_that_pay_that_do_not_and_that_are_worse_have_marks_of_their_own() -> None:
    figure = build_clamp_savings(clamp_rows())
    assert list(figure.data[0].marker.symbol) == ["circle", "circle", "circle-open", "x-thin-open"]
    heads = [note.text for note in figure.layout.annotations]
    assert heads == ["<b>band clamp</b>  8 owned, 4 more pay", "<b>bar clamp</b>  2 owned, no step pays"]


def test_a_step_of_which_it_is_not_sure_whether_it_pays_has_a_mark_and_words_of_its_own() -> None:
    rows = clamp_rows()
    rows.loc[1, "may_pay"] = True
    figure = build_clamp_savings(rows)
    assert list(figure.data[0].marker.symbol)[2] == "circle-open-dot"
    assert figure.data[0].hovertext[2].endswith("<br>not sure whether it pays")
    assert figure.layout.annotations[0].text == "<b>band clamp</b><br>8 owned, 4 more pay, 8 not sure"
    rows.loc[0, "pays"] = False
    assert build_clamp_savings(rows).layout.annotations[0].text == "<b>band clamp</b>  8 owned, 8 more not sure"


def test_the_head_of_a_kind_names_the_numbers_that_pay_and_no_others() -> None:
    rows = clamp_rows()
    rows.loc[2, "pays"] = True
    assert build_clamp_savings(rows).layout.annotations[0].text == "<b>band clamp</b>  8 owned, 4 and 12 more pay"
    other = rows.assign(under='"oldest batch" first', pays=False)
    (head, _) = (note.text for note in build_clamp_savings(pd.concat([rows, other])).layout.annotations)
    assert head.endswith('8 owned, as the shop is 4 and 12 more pay;<br>with "oldest batch" first no step pays')


def test_a_saving_of_nothing_is_not_blown_up() -> None:
    rows = clamp_rows()
    figure = build_clamp_savings(rows[rows["kind"] == "bar clamp"])
    low, high = figure.layout.yaxis.range
    assert low <= -0.5
    assert high >= 1.0


def test_the_last_order_is_drawn_when_asked_for() -> None:
    figure = build_clamp_savings(clamp_rows(), measure="last")
    assert list(figure.data[0].y) == [0.0, 6.0, 6.4, 2.0]


def test_clamps_without_rows_give_an_empty_chart() -> None:
    assert len(build_clamp_savings(clamp_rows().head(0)).data) == 0


# ---- one more of everything
def test_one_more_of_everything_is_ranked_and_the_sure_are_marked() -> None:
    rows = pd.DataFrame(
        {
            "what": ["1 more bench", "1 more person", "4 more bar clamps", "1 more room", "1 more jig"],
            "average_saved_days": [0.1, 14.0, 2.0, np.nan, -0.7],
            "average_saved_days_low": [-0.2, 12.0, 1.5, np.nan, -1.0],
            "average_saved_days_high": [0.4, 16.0, 2.5, np.nan, -0.4],
            "average_saved_days_unseen": False,
            "cost": [np.nan, np.nan, 136.0, 5.0, np.nan],
        }
    )
    figure = build_holdups(rows)
    sure, unsure, later = figure.data
    assert list(sure.x) == [14.0, 2.0]
    assert list(unsure.x) == [0.1]
    assert list(later.x) == [-0.7]
    assert list(sure.y) < list(unsure.y)
    assert (sure.marker.symbol, unsure.marker.symbol, later.marker.symbol) == ("circle", "circle-open", "x")
    assert np.add(sure.x, sure.error_x.array).tolist() == pytest.approx([16.0, 2.5])
    assert [note.text for note in figure.layout.annotations] == [
        "1 more person", "4 more bar clamps", "1 more bench", "1 more jig",
    ]  # fmt: skip
    assert sure.hovertext[1] == "4 more bar clamps<br>days sooner 2.0 (1.5 to 2.5)<br>costs 136"
    assert "costs" not in sure.hovertext[0]


# ---- delivery
def test_a_window_reaches_from_its_first_day_to_the_end_of_its_last() -> None:
    figure = build_delivery(DELIVERY)
    window, promise, joint = figure.data
    assert list(window.base) == [dt.datetime(2027, 2, 12)] * 2
    assert list(window.x) == [22 * DAY_MS, DAY_MS]
    assert [pd.Timestamp(at).date().isoformat() for at in promise.x] == list(DELIVERY["promise"])
    assert [pd.Timestamp(at).date().isoformat() for at in joint.x] == list(DELIVERY["all_kept"])
    assert promise.marker.symbol != joint.marker.symbol
    assert window.hovertext[1].startswith("order &lt;b&gt;B&lt;/b&gt;: ships Fri 12 Feb 2027")
    assert "in 99 % of runs" in window.hovertext[1]  # never rounded up to certainty


def test_many_orders_are_a_band() -> None:
    many = pd.concat([DELIVERY] * 50, ignore_index=True).assign(position=range(1, 101))
    figure = build_delivery(many)
    assert figure.data[0].type == "scatter"
    assert figure.data[0].fill == "toself"
    assert len(figure.data[1].x) == 100
    assert figure.data[1].line.dash != figure.data[2].line.dash


def test_the_last_ship_date_goes_with_the_number_of_orders() -> None:
    figure = build_order_counts(DELIVERY.assign(orders=[6, 7]))
    _, promise, joint = figure.data
    assert list(promise.x) == [6, 7]
    assert [pd.Timestamp(day).date().isoformat() for day in promise.y] == list(DELIVERY["promise"])
    assert [pd.Timestamp(day).date().isoformat() for day in joint.y] == list(DELIVERY["all_kept"])


# ---- which charts go with which answer
def test_each_answer_has_its_charts() -> None:
    def titles(title: str, rows: pd.DataFrame, **tables: pd.DataFrame) -> list[str]:
        return [figure.layout.title.text for figure in build_for_answer(title, rows, tables)]

    lead_times = {"lead_time_by_order": POSITIONS}
    found = build_for_answer("batch_size", pd.DataFrame({"batch": [5]}), lead_times, "dark")
    assert [figure.layout.title.text for figure in found] == ["Lead time by order position"]
    assert found[0].layout.meta["theme"] == "dark"
    assert titles("more_clamps", clamp_rows()) == ["Days saved by more clamps", "What each change would save"]
    more = pd.DataFrame(
        {
            "what": ["1 more bench"],
            "average_saved_days": 1.0,
            "average_saved_days_low": 0.5,
            "average_saved_days_high": 2.0,
            "average_saved_days_unseen": False,
            "cost": 3.0,
        }
    )
    time = pd.DataFrame({"piece": [1], "batch": [1], "part": ["hands-on"], "detail": [""], "minutes": [720.0]})
    assert titles("what_holds_the_run_back", more, time_by_piece=time) == [
        "What each change would save", "Where the time of each piece goes",
    ]  # fmt: skip
    assert titles("delivery_window", DELIVERY) == ["Ship window of each order"]
    counts = DELIVERY.drop(columns=["position", "order"]).assign(orders=[6, 7])
    assert titles("delivery_window_by_number_of_orders", counts) == ["Last ship date by number of orders"]
    assert titles("Something else", pd.DataFrame({"a": [1]})) == []


def test_beside_clamps_one_more_of_other_things_is_said_in_words() -> None:
    common = {"average_saved_days_low": 0.5, "average_saved_days_high": 2.0, "cost": 10.0, "pays": False}
    common["average_saved_days_unseen"] = False
    more = [("worker", "maker", 1), ("worker", "helper", 2), ("rack", "drying rack", 1), ("rack", "shelf", 4),
            ("station", "bench", 1)]  # fmt: skip
    rows = pd.DataFrame(
        [
            {"thing": thing, "kind": kind, "added": added, "average_saved_days": 1.0 + n, **common}
            for n, (thing, kind, added) in enumerate(more)
        ]
    )
    (figure,) = build_for_answer("more_clamps", rows, {})
    assert {note.text for note in figure.layout.annotations} >= {
        "one more person like the maker", "2 more people like the helper", "1 more spot on the drying rack",
        "4 more spots on the shelf", "one more bench",
    }  # fmt: skip


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_names_of_a_user_never_become_markup(theme: str) -> None:
    nasty = "<img src=x onerror=alert(1)>%{x}"
    rows = clamp_rows().assign(kind=nasty)
    for figure in build_for_answer("more_clamps", rows, {"lead_time_by_order": POSITIONS.assign(batch=nasty)}, theme):
        assert "<img" not in str(figure.to_plotly_json())
        assert all(getattr(trace, "hovertemplate", None) is None for trace in figure.data)


def test_a_chart_as_a_page_of_its_own_loads_nothing_and_names_nothing_as_markup() -> None:
    nasty = "</title><script>alert(1)</script>"
    use = pd.DataFrame({"kind": ["clamp"], "name": [nasty], "since": [pd.Timestamp("2027-01-11")],
                        "until": [pd.Timestamp("2027-01-12")], "in_use": [1], "owned": [2]})  # fmt: skip
    closed = pd.DataFrame({"since": [], "until": []}, dtype="datetime64[ns]")
    page = format_page(build_clamps_in_use(use, closed, nasty, "dark"))
    assert page.startswith("<!doctype html>")
    assert page.rstrip().endswith("</html>")
    assert "<script>alert(1)" not in page
    assert page.count("<script") == page.count("</script>") == 3  # what is drawn, the library, and what draws
    assert re.search(r"<title>[^<]*alert\(1\)[^<]*</title>", page)
    own = re.sub(r"<script.*?</script>", "", page, flags=re.DOTALL)
    assert not re.findall(r'(?:src|href)="(?!data:)', own)
