"""Scenarios are written so that they read back equal, and a failure leaves the old file as it was."""

from __future__ import annotations

import datetime as dt
import os
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopsim.errors import InputError, ScenarioError
from shopsim.laws import Law, fixed, own_law
from shopsim.scenario import (
    ClampKind,
    ClampNeed,
    Design,
    Operation,
    ProductionRun,
    Scenario,
    Shop,
    change_scenario,
    dump_scenario,
    edit_file,
    load_scenario,
    parse_scenario,
    save_scenario,
)
from shopsim.scenario.base_record import has_control_letter

FULL = """\
title = "stools and \\"trays\\" \\t ü"
[shop]
open = { mon-fri = "08:00-12:00, 13:00-17:00", sat = "22:00-02:00" }
closed = [2027-02-15, "2027-03-01..2027-03-05"]
interrupted = "5 / 10 / 25 %"
lost_days = "4.7 %"
[[shop.workers]]
name = "maker"
[[shop.workers]]
name = "helper"
open = { fri = "09:00-12:00" }
closed = [2027-01-15]
can = ["sand", "packing"]
[[shop.stations]]
name = "bench"
count = 2
[[shop.racks]]
name = "drying rack"
spots = 10
[[shop.clamps]]
name = "bar clamp"
reach = "24 in"
count = 10
price = 34
[[shop.clamps]]
name = "band clamp"
count = 2
[[designs]]
name = "counter stool"
parts = { "side frame" = 2, seat = 1 }
[[designs.operations]]
name = "make jig"
per = "run"
work = "0.1 h"
[[designs.operations]]
name = "cut joints"
after = []
setup = { law = "exponential", mean = "5 min" }
work = { logged = ["5 min", "6 min", "400 s"] }
[[designs.operations]]
name = "glue side frames"
after = ["cut joints"]
per = "side frame"
handful = 1
station = "bench"
work = "6 / 8 / 14 min"
work_kind = "machine"
basis = "timed"
clamps = [{ count = 2, reach = "18 in" }, { kind = "band clamp" }]
in_clamps = { law = "beta-PERT", low = "45 min", likely = "1 h", high = "90 min" }
unclamp = "3 min"
cure = "24 h"
rest = { rack = "drying rack", spots = 2 }
stays = true
pausable = false
open_time = "10 min"
learning = "95 %"
redo = { chance = "3 %", work = "20 / 30 / 60 min" }
caution = "glue-up"
[[designs.operations]]
name = "oil"
handful = "batch"
wait_for = "batch"
wet = { law = "lognormal", median = "1 h", sigma = 0.3 }
rest = "drying rack"
work = "2 min"
[[designs]]
name = "serving tray"
[[designs.operations]]
name = "sand"
hands = 1
work = { law = "Erlang", mean = "5 min", shape = 3 }
dusty = true
[[materials]]
name = "walnut"
needed_by = ["cut joints"]
lead = "5 / 7 / 14 d"
ordered = 2027-01-05
rest = "3 d"
late = "20 %"
[shipping]
packing = "10 / 20 / 30 min"
packing_station = "bench"
before_packing = "2 d"
pick_up = ["tue", "fri"]
pick_up_at = "16:00"
transit = { local = "1 d", far = { law = "triangular", low = "1 d", likely = "3 d", high = "7 d" } }
[luck]
bias = 1.3
hand_spread = 0.00001
[run]
orders_close = 2027-01-08
start = 2027-01-11
pieces_open = 15
priority = "longest tail"
[[run.lines]]
design = "counter stool"
orders = 10
round_up_to = 4
batch = 5
[[run.lines]]
design = "serving tray"
orders = 6
start = 2027-01-18
"""

PLAIN = """\
# my shop
[shop]
open = "always"   # it never closes

[[shop.clamps]]   # the first kind
name = "bar clamp"
reach = "24 in"
count = 4         # two of them old

[design]
name = "serving tray"
[[design.operations]]
name = "glue"
work = "5 min"    # timed once
clamps = [
  { count = 2, reach = "18 in" },   # one each side
]
in_clamps = "1 h"

[run]
orders = 2        # so far
start = 2027-01-11
"""


def test_a_scenario_with_everything_in_it_reads_back_equal() -> None:
    scenario = parse_scenario(FULL)
    text = dump_scenario(scenario)
    assert parse_scenario(text) == scenario
    assert dump_scenario(parse_scenario(text)) == text


def test_dates_are_written_as_dates_and_defaults_left_out() -> None:
    data = tomllib.loads(dump_scenario(parse_scenario(FULL)))
    assert data["run"]["start"] == dt.date(2027, 1, 11)
    assert data["shop"]["closed"] == [dt.date(2027, 2, 15), "2027-03-01..2027-03-05"]
    assert data["materials"][0]["ordered"] == dt.date(2027, 1, 5)
    assert "hands" not in data["designs"][1]["operations"][0]
    assert "batch" not in data["run"]


def test_the_text_is_what_a_maker_would_write() -> None:
    assert dump_scenario(parse_scenario(PLAIN)) == (
        '[shop]\nopen = "always"\n\n[[shop.clamps]]\nname = "bar clamp"\nreach = "24 in"\ncount = 4\n\n'
        '[design]\nname = "serving tray"\n\n[[design.operations]]\nname = "glue"\nwork = "5 min"\n'
        'clamps = [{ count = 2, reach = "18 in" }]\nin_clamps = "60 min"\n\n[run]\norders = 2\nstart = 2027-01-11\n'
    )


def test_an_order_book_is_named_again(tmp_path: Path) -> None:
    (tmp_path / "orders.csv").write_text("id,date\nA1,2027-01-04\n")
    text = PLAIN.replace("orders = 2 ", 'orders = "orders.csv" ')
    scenario = parse_scenario(text, folder=tmp_path)
    save_scenario(scenario, tmp_path / "again.toml")
    assert load_scenario(tmp_path / "again.toml") == scenario


def test_a_law_of_ones_own_cannot_be_written_and_says_where_it_is() -> None:
    scenario = parse_scenario(PLAIN)
    assert scenario.design is not None
    glue = scenario.design.operations[0].model_copy(update={"work": own_law(np.sqrt, 2.0)})
    design = scenario.design.model_copy(update={"operations": (glue,)})
    with pytest.raises(InputError, match=r'design\.operations "glue" · work · follows a law of your own'):
        dump_scenario(scenario.model_copy(update={"design": design}))


minutes = st.floats(0, 1e5)
rising = st.tuples(minutes, minutes, minutes).map(sorted).filter(lambda three: three[0] < three[2])
laws = st.one_of(
    minutes.map(fixed),
    rising.filter(lambda three: three[2] <= 1000 * three[1]).map(lambda three: Law("range", tuple(three))),
    rising.map(lambda three: Law("beta-pert", tuple(three))),
    rising.map(lambda three: Law("triangular", tuple(three))),
    minutes.map(lambda mean: Law("exponential", (mean,))),
    st.builds(lambda mean, shape: Law("erlang", (mean, float(shape))), minutes, st.integers(1, 1000)),
    st.builds(lambda median, sigma: Law("lognormal", (median, sigma)), minutes, st.floats(0, 5)),
    st.lists(minutes, min_size=1, max_size=4).map(lambda seen: Law("logged", tuple(seen))),
)
names = st.text(min_size=1, max_size=12).filter(
    lambda text: text.strip() and "\ue000" not in text and not has_control_letter(text)
)
operations = st.builds(
    Operation.model_construct,
    name=st.just("glue"),
    station=st.none(),
    work=laws,
    setup=laws,
    cure=st.none() | laws,
    open_time=st.just(None),
    learning=st.floats(0.5, 1.0),
    pausable=st.just(True),
    stays=st.booleans(),
)


@settings(max_examples=200, deadline=None)
@given(
    title=st.text(max_size=20),
    name=names,
    clamp=names,
    operation=operations,
    reach=st.floats(1, 1e5).map(lambda mm: round(mm, 6)),
    lost=st.floats(0, 0.99),
    batch=st.none() | st.integers(1, 20),
    start=st.dates(dt.date(1990, 1, 1), dt.date(2199, 1, 1)),
)
def test_any_scenario_made_in_python_reads_back_equal(
    title: str,
    name: str,
    clamp: str,
    operation: Operation,
    reach: float,
    lost: float,
    batch: int | None,
    start: dt.date,
) -> None:
    glue = operation.model_copy(
        update={"clamps": (ClampNeed.model_construct(count=1, reach=reach, kind=None),), "in_clamps": fixed(60.0)}
    )
    scenario = Scenario.model_construct(
        title=title,
        shop=Shop.model_construct(
            open="always",
            lost_days=fixed(lost),
            clamps=(ClampKind.model_construct(name=clamp, reach=reach, count=1, price=None),),
        ),
        design=Design.model_construct(
            name=name, parts={name: 2} if name not in ("run", "batch", "piece") else {}, operations=(glue,)
        ),
        run=ProductionRun.model_construct(orders=3, batch=batch, start=start),
    )
    assert parse_scenario(dump_scenario(scenario)) == scenario


def test_saving_puts_the_whole_file_in_place_and_leaves_nothing_beside_it(tmp_path: Path) -> None:
    path = tmp_path / "run.toml"
    path.write_text("old")
    path.chmod(0o640)
    save_scenario(parse_scenario(PLAIN), path)
    assert load_scenario(path) == parse_scenario(PLAIN)
    assert [file.name for file in tmp_path.iterdir()] == ["run.toml"]
    assert path.stat().st_mode & 0o777 == 0o640


def test_a_link_to_a_file_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "real.toml").write_text(PLAIN)
    (tmp_path / "link.toml").symlink_to(tmp_path / "real.toml")
    edit_file(tmp_path / "link.toml", {"run.orders": 5})
    assert (tmp_path / "link.toml").is_symlink()
    assert load_scenario(tmp_path / "real.toml").run.orders == 5


@pytest.mark.parametrize("failing", ["fsync", "replace", "fdopen"])
def test_a_failure_in_the_middle_leaves_the_old_file_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, failing: str
) -> None:
    path = tmp_path / "run.toml"
    path.write_text(PLAIN)

    def fail(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, failing, fail)
    with pytest.raises(InputError) as caught:
        save_scenario(change_scenario(parse_scenario(PLAIN), {"run.orders": 9}), path)
    assert str(caught.value) == (
        f"{path} · cannot be written: no space left on device · it is left as it was; check the folder and the disk"
    )
    monkeypatch.undo()
    assert path.read_text() == PLAIN
    assert [file.name for file in tmp_path.iterdir()] == ["run.toml"]


def test_a_place_that_cannot_be_written_to_is_told(tmp_path: Path) -> None:
    scenario = parse_scenario(PLAIN)
    with pytest.raises(InputError, match="is a folder · name a file in it"):
        save_scenario(scenario, tmp_path)
    with pytest.raises(InputError, match="its folder does not exist · make the folder first"):
        save_scenario(scenario, tmp_path / "none" / "run.toml")


def test_an_edit_changes_the_value_and_nothing_else(tmp_path: Path) -> None:
    path = tmp_path / "run.toml"
    path.write_text(PLAIN)
    edit_file(
        path,
        {
            "run.orders": 7,
            'shop.clamps."bar clamp".count': np.int64(6),
            "design.operations.glue.work": "4 / 5 / 9 min",
            "design.operations.glue.clamps[0].count": 3,
        },
    )
    assert path.read_text() == (
        PLAIN.replace("orders = 2 ", "orders = 7 ")
        .replace("count = 4 ", "count = 6 ")
        .replace('work = "5 min"', 'work = "4 / 5 / 9 min"')
        .replace("{ count = 2,", "{ count = 3,")
    )


def test_an_edit_adds_keys_and_tables_that_were_not_there_and_takes_others_out(tmp_path: Path) -> None:
    path = tmp_path / "run.toml"
    path.write_text(PLAIN)
    changes = {
        "run.batch": 1,
        "luck.bias": 1.5,
        "shop.closed": [dt.date(2027, 2, 1)],
        "design.operations.glue.redo": {"chance": "5 %", "work": "9 min"},
        "design.operations.glue.in_clamps": None,
    }
    edit_file(path, changes)
    assert load_scenario(path) == change_scenario(parse_scenario(PLAIN), changes)
    assert all(remark in path.read_text() for remark in ("# my shop", "# it never closes", "# timed once", "# so far"))


def test_windows_line_ends_are_kept(tmp_path: Path) -> None:
    path = tmp_path / "run.toml"
    path.write_bytes(PLAIN.replace("\n", "\r\n").encode())
    edit_file(path, {"run.orders": 7})
    assert path.read_bytes() == PLAIN.replace("orders = 2 ", "orders = 7 ").replace("\n", "\r\n").encode()


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"run.batch": "all"}, 'run.batch · "all" is not a whole number'),
        ({"run.bacth": 1}, 'run.bacth · there is no "bacth" in run · write "batch"'),
        ({"shop.clamps[0].count": 1}, "needs 2 clamps of 18 in or more, the shop owns 1"),
    ],
)
def test_an_edit_that_would_make_a_fault_is_refused_and_the_file_kept(
    tmp_path: Path, changes: dict[str, object], told: str
) -> None:
    path = tmp_path / "run.toml"
    path.write_text(PLAIN)
    with pytest.raises(ScenarioError) as caught:
        edit_file(path, changes)
    assert told in str(caught.value)
    assert path.read_text() == PLAIN


def test_a_file_that_has_faults_already_can_be_mended_one_by_one(tmp_path: Path) -> None:
    path = tmp_path / "run.toml"
    path.write_text(PLAIN.replace("count = 4 ", "count = 1 ").replace("orders = 2 ", "orders = 0 "))
    edit_file(path, {"run.orders": 2})
    edit_file(path, {"shop.clamps[0].count": 4})
    assert path.read_text() == PLAIN


def test_a_table_in_a_file_of_its_own_is_not_edited_by_way_of_another(tmp_path: Path) -> None:
    path = tmp_path / "run.toml"
    text = 'shop = "my-shop.toml"\n' + PLAIN[PLAIN.index("[design]") :]
    path.write_text(text)
    with pytest.raises(ScenarioError, match=r'"shop" stands in a file of its own, my-shop\.toml'):
        edit_file(path, {"shop.clamps[0].count": 5})
    assert path.read_text() == text


def test_a_file_that_is_not_toml_is_not_edited(tmp_path: Path) -> None:
    path = tmp_path / "run.toml"
    path.write_text("[run\n")
    with pytest.raises(ScenarioError, match="header is not closed"):
        edit_file(path, {"run.orders": 5})
    with pytest.raises(ScenarioError, match="there is no such file"):
        edit_file(tmp_path / "none.toml", {"run.orders": 5})
