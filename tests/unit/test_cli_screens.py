"""What stands on a screen: nothing wider than the terminal, no name or heading cut, no table in two, no internal key."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

from shopsim import parse_scenario
from shopsim.answers import Answer
from shopsim.answers.batch_size import compare_batch_sizes
from shopsim.answers.day_plan import OVERNIGHT, SHIP, plan_days
from shopsim.answers.delivery import forecast_delivery
from shopsim.answers.holdups import find_holdups
from shopsim.answers.more_clamps import compare_clamps
from shopsim.answers.one_run import shorten_pieces, shorten_plan
from shopsim.cli.printing import make_console, print_table, say
from shopsim.columns import COLUMNS
from shopsim.report import format_table
from shopsim.scenario.model import Scenario
from shopsim.screens import further_tables, screen_table
from shopsim.study.once import run_once

Command = Callable[..., tuple[int, str, str]]

KINDS = (
    "heavy parallel jaw clamp for wide panels", "small bar clamp, pine handle", "one-handed clamp for narrow rails",
    "band clamp with four plastic corners", "iron pipe clamp", "deep throat clamp", "cam clamp of beech", "spring clamp",
    "edge clamp with a centre screw", "toggle clamp on the mitre jig", "long sash clamp from the auction",
    "picture frame clamp",
)  # fmt: skip
#: Keys of columns that nobody should see, and places in a file.
INTERNAL = re.compile(
    "|".join([*(rf"\b{key}\b" for key in COLUMNS if "_" in key), r"design\.operations", r"\bso_far\b"])
)


def long_text() -> str:
    """A shop with long names, twelve kinds of clamps and a glue-up with each."""
    clamps = "\n".join(
        f'[[shop.clamps]]\nname = "{kind}"\ncount = 2\nprice = {18 + n}.0' for n, kind in enumerate(KINDS)
    )
    glue_ups = "\n".join(
        f'[[design.operations]]\nname = "glue joint number {n + 1} of the carcass before the back goes in"\n'
        f'station = "long workbench beside the window"\nwork = "3 / 5 / 9 min"\n'
        f'clamps = [{{ kind = "{kind}", count = 1 }}]\nin_clamps = "30 / 45 / 90 min"\ncaution = "glue-up"'
        for n, kind in enumerate(KINDS)
    )
    return f"""
title = "Hall benches and writing desks with drawers, commission of the spring market"
[shop]
open = {{ tue = "18:00-21:30", sat = "08:30-12:30, 13:30-17:30" }}
[[shop.workers]]
name = "the elder of the two brothers"
[[shop.workers]]
name = "neighbour who helps at weekends"
open = {{ sat = "09:00-12:00" }}
[[shop.stations]]
name = "long workbench beside the window"
{clamps}
[design]
name = "writing desk with three drawers"
[[design.operations]]
name = "plane the writing surface by hand to an even thickness"
work = "10 / 20 / 45 min"
caution = ["hand tools", "noise", "eye protection", "dust"]
{glue_ups}
[run]
orders = 3
batch = 1
orders_close = 2027-01-08
start = 2027-01-11
"""


@cache
def long_shop() -> Scenario:
    return parse_scenario(long_text())


@cache
def answers() -> tuple[Answer, ...]:
    shop = long_shop()
    return (
        compare_batch_sizes(shop, replications=20),
        compare_clamps(shop, replications=20),
        find_holdups(shop, replications=20),
        forecast_delivery(shop, replications=20),
    )


def printed(answer: Answer, width: int, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> str:
    """An answer as a command prints it."""
    monkeypatch.setenv("COLUMNS", str(width))
    console = make_console()
    say(console, answer.sentence)
    print_table(console, screen_table(answer))
    for title, table in further_tables(answer).items():
        print_table(console, table, title=title)
    for note in answer.notes:
        say(console, f"- {note}")
    return capsys.readouterr().out


@pytest.mark.parametrize("width", [80, 100, 120])
@pytest.mark.parametrize("number", range(4))
def test_long_names_keep_to_the_terminal_and_stay_whole(
    number: int, width: int, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    answer = answers()[number]
    out = printed(answer, width, monkeypatch, capsys)
    assert max(len(line) for line in out.splitlines()) <= width
    assert "…" not in out
    assert INTERNAL.findall(out) == []
    tables = [screen_table(answer), *further_tables(answer).values()]
    assert sum(set(line) == {"─"} for line in out.splitlines()) == len(tables), "no table is split in two"
    words = set(re.split(r"[^\w.:%+-]+", out))
    for table in tables:
        wanted = {word for name in table.columns for word in str(name).split()}
        wanted |= {word for cell in table.iloc[:, 0] for word in str(cell).split()}
        assert {word for word in wanted if word.strip(',()"/')} <= {*words, *out.split()}, (
            "no heading and no name is cut"
        )


@pytest.mark.parametrize("width", [80, 120])
@pytest.mark.parametrize("command", ["check", "once", "decide"])
def test_no_command_shows_an_internal_key_or_passes_the_edge(
    shopsim: Command, trays: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, command: str, width: int
) -> None:
    monkeypatch.setenv("COLUMNS", str(width))
    path = tmp_path / "long.toml"
    path.write_text(long_text(), encoding="utf-8")
    few = ("--replications", 20, "--jobs", 1) if command == "decide" else ()
    for file in (trays,) if command == "decide" else (trays, path):
        code, out, _ = shopsim(command, file, *few)
        assert code == 0
        assert max(len(line) for line in out.replace(str(file), "").splitlines()) <= width
        assert INTERNAL.findall(out) == []


def test_more_of_a_thing_is_said_on_the_screen_as_in_the_sentence() -> None:
    first = screen_table(answers()[1])["what"].tolist()
    assert "one more person like the elder of the two brothers" in first
    assert "2 more band clamps with four plastic corners, with room for 3" in first
    assert "1 more long sash clamp from the auction, with room for 3" in first
    assert not [what for what in first if what.startswith("+")]


def test_a_remark_that_would_wrap_to_many_lines_goes_below_its_table(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    answer = answers()[1]
    remark = (
        "later than with fewer: more clamps can upset the order of work, and this goes on for some lines more than fit"
    )
    rows = answer.rows.copy()
    rows.loc[rows["under"].ne("").to_numpy().nonzero()[0][4], "remark"] = remark
    changed = Answer(**{**vars(answer), "rows": rows})
    out = printed(changed, 80, monkeypatch, capsys)
    what = screen_table(changed)["what"].tolist()[4]
    assert f"{what}, remark: {remark}" in " ".join(out.split())
    assert f"{what}, remark: {remark}"[:70] in out, "in a line of its own, not in a narrow column"


def test_a_number_and_its_unit_stay_on_one_line(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for width in range(20, 60):
        monkeypatch.setenv("COLUMNS", str(width))
        say(
            make_console(), "near 80 % it is known to within 13 in a hundred; maker 67 min, then 2.4 h, and 3 days more"
        )
        lines = capsys.readouterr().out.splitlines()
        assert max(len(line) for line in lines) <= width
        for quantity in ("80 %", "67 min", "2.4 h", "3 days"):
            assert sum(quantity in line for line in lines) == 1


def test_times_of_pieces_are_days_and_the_plan_on_paper_has_its_cautions_in_few_columns() -> None:
    run = run_once(long_shop(), likely=True)
    pieces = shorten_pieces(run.pieces)
    assert pieces["elapsed_days"].tolist() == [minutes / 1440 for minutes in run.pieces["elapsed_min"]]
    assert "elapsed, days" in format_table(pieces)
    assert "elapsed, min" not in format_table(pieces)
    plan = plan_days(run)
    short = shorten_plan(plan)
    assert list(short.columns) == ["day", "time", "what", "caution"]  # four columns fit on A4 and Letter
    work = ~plan["do"].isin([OVERNIGHT, SHIP])  # what only stays in clamps asks nothing of anybody
    assert short["caution"][work].tolist() == plan["caution"][work].tolist()
    assert short["caution"][work].any()
    assert [day for day in short["day"] if day.strip()] == [f"{day:%a %d %b %Y}" for day in dict.fromkeys(plan["day"])]
