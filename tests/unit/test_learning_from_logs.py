"""Logs read, taken in once, shown before and after, and written into the file."""

from __future__ import annotations

import datetime as dt
import json
import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest

from shopsim import load_scenario
from shopsim.answers.learning import Lesson, compare_shipped, learn_from_logs
from shopsim.answers.log_files import Logs, read_logs, write_learned
from shopsim.errors import Cancelled, DoubtfulLog, InputError, ScenarioError
from shopsim.scenario import Scenario, read_scenario, scenario_schema
from shopsim.scenario.day_logs import DayRow, read_days
from shopsim.scenario.logs import LoggableWork, read_times
from shopsim.scenario.model import DeliveredOrder, Learned
from shopsim.scenario.shipped_logs import ShippedRow, read_shipped
from shopsim.study import run_study
from shopsim.study.beliefs import list_loggable
from shopsim.study.contradictions import flag_contradictions
from shopsim.study.recalibration import find_recalibration
from shopsim.study.taking_in import take_days, take_delivered, take_times

Shell = Callable[..., tuple[int, str, str]]

WORKS = [
    LoggableWork("tray", "cut mitres", 1, 1),
    LoggableWork("tray", "glue side", 2, 2),
    LoggableWork("tray", "oil all", None, None),
]
LOG = """\
run,operation,piece,minutes
march,cut,1,44
march,cut,2,41
march,cut,3,49
march,cut,4,46
march,glue,1,16
march,sand,1,21
"""


def with_log(scenario: Scenario, text: str, name: str = "march.csv") -> tuple[Learned, tuple[str, ...]]:
    rows, faults = read_times(text, name, list_loggable(scenario))
    assert faults == []
    taken = take_times(scenario, rows, name)
    return taken.learned, taken.notes


def knowing(scenario: Scenario, learned: Learned) -> Scenario:
    return scenario.model_copy(update={"learned": learned})


@pytest.fixture
def shop(trays: Path) -> Scenario:
    return load_scenario(trays)


def test_columns_are_known_by_plain_names_in_any_order_and_with_any_comma() -> None:
    text = "Time taken; Operation ;Piece no.;Run\n12 min;Cut  Mitres;1;may\n0.2 h;glue side;A;may\n\n;;;\n"
    rows, faults = read_times(text, "log.csv", WORKS)
    assert faults == []
    assert [(r.line, r.run, r.operation, r.piece, r.units, r.minutes) for r in rows] == [
        (2, "may", "cut mitres", "1", 1, 12.0),
        (3, "may", "glue side", "A", 2, 12.0),
    ]


def test_a_log_without_a_column_for_the_run_is_one_run_of_the_files_name() -> None:
    rows, _ = read_times("operation,minutes\ncut mitres,9\n", "logs/spring batch.csv", WORKS)
    assert rows[0].run == "spring batch"


def test_every_fault_of_a_log_is_told_at_once_by_row() -> None:
    text = (
        "run,operation,piece,units,minutes,date\n"
        "a,cut mitre,1,,9,\n"
        "a,cut mitres,1,,nine,\n"
        "a,cut mitres,2,,0,\n"
        "a,cut mitres,3,,7,8.1.2027\n"
        "a,cut mitres,4,,7,2027-01-08\n"
        "a,cut mitres,4,,8,\n"
        "a,oil all,,,30,\n"
        ",cut mitres,5,,7,\n"
        "a,glue side,1,none,7,\n"
        "a,,1,,7,\n"
        "a,cut mitres,6,,7,,,9\n"
    )
    rows, faults = read_times(text, "log.csv", WORKS)
    assert [str(fault) for fault in faults] == [
        'log.csv:12 · has 8 cells, the head has 6 · put a cell that holds a comma in "quotes"',
        'log.csv:2 · operation · there is no operation "cut mitre" · write "cut mitres"',
        'log.csv:3 · "cut mitres" · minutes · "nine" cannot be read as a time · write something like "12 min"',
        'log.csv:4 · "cut mitres" · minutes · "0" is no time at all · write how long it took, or leave the row out',
        'log.csv:5 · "cut mitres" · date · "8.1.2027" is not a date · write it like 2027-01-08 (year, month, day)',
        'log.csv:7 · "cut mitres" · piece "4" has 1 of it, and line 6 tells of it already · keep one of them; work done '
        "again is no time of its own",
        'log.csv:8 · "oil all" · units · is blank, and one task of it is a whole batch of whatever size · add a column '
        "units: how many the minutes are for",
        'log.csv:9 · "cut mitres" · run · is blank · name the run it was timed in',
        'log.csv:10 · "glue side" · units · "none" is not a number of units · write a whole number from 1 to 10000',
        "log.csv:11 · operation · is blank · name the operation as the file does",
    ]
    assert [row.line for row in rows] == [6]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("operation,piece\ncut mitres,1\n", 'log.csv:1 · head · has no column "minutes" · begin with: run,operation,piece,minutes'),
        ("operation,minutes\n", "log.csv · holds no times · write one time on each line below the head"),
        ("operation,minuts\ncut mitres,3\n", 'log.csv:1 · head · "minuts" is not a known column · call it "minutes"'),
        ('operation,minutes\n"cut mitres,3\n', 'log.csv:2 · a cell begins with " and is never closed'),
    ],
)  # fmt: skip
def test_a_head_that_cannot_be_used_is_told(text: str, said: str) -> None:
    _, faults = read_times(text, "log.csv", WORKS)
    assert str(faults[0]).startswith(said)


def test_of_two_designs_with_the_same_operation_the_log_must_say_which() -> None:
    works = [LoggableWork("tray", "sand"), LoggableWork("stool", "sand")]
    _, faults = read_times("operation,minutes\nsand,9\n", "log.csv", works)
    assert [fault.mend for fault in faults] == ["add a column design that says which"]
    rows, faults = read_times("design,operation,minutes\nStool,sand,9\n", "log.csv", works)
    assert (rows[0].design, faults) == ("stool", [])


def test_days_are_read_as_what_was_left_or_as_what_was_lost_of_that_days_hours(shop: Scenario) -> None:
    # the shop is open 8 hours a day, Monday to Friday; 2027-01-11 is a Monday
    text = (
        "date,open_share,interrupted,minutes lost,lost\n2027-01-11,85 %,,,\n2027-01-12,,,120,no\n2027-01-13,,,,yes\n"
        "2027-01-14,0.9,,,no\n2027-01-15,,,8 h,\n2027-01-18,,10 %,,\n2027-01-19,,2 h,,\n2027-01-20,,0,,\n"
    )
    rows, faults = read_days(text, "days.csv", shop.shop)
    assert faults == []
    assert [(row.date.day, row.share, row.lost) for row in rows] == [
        (11, 0.85, False), (12, 0.75, False), (13, None, True), (14, 0.9, False), (15, None, True), (18, 0.9, False),
        (19, 0.75, False), (20, 1.0, False),
    ]  # fmt: skip


def test_a_column_called_only_share_is_read_as_what_was_left_and_the_answer_says_so(shop: Scenario) -> None:
    rows, faults = read_days("date,share\n2027-01-11,85 %\n2027-01-12,0\n", "days.csv", shop.shop)
    assert faults == []
    assert [(row.share, row.lost, row.plain) for row in rows] == [(0.85, False, True), (None, True, False)]
    lesson = learn_from_logs(shop, Logs(days=tuple(rows[:1]), days_name="days.csv"), replications=99)
    assert '"share" in days.csv is read as the share that was left: call the column open_share.' in lesson.answer.notes


def test_faults_of_days_are_told_by_row(shop: Scenario) -> None:
    text = (
        "date,open_share,minutes lost,interrupted,lost\n2027-01-11,85,,,\n2027-01-11,,,,maybe\n2027-01-12,,600,,\n"
        "2027-01-16,,30,,\n2027-01-13,,,,\n2027-01-14,50 %,,,yes\n2027-02-30,,,,no\n,,,,no\n2027-01-15,,0.1,,\n"
        "2027-01-18,,,0.1,\n2027-01-19,90 %,,10 %,\n"
    )
    _, faults = read_days(text, "days.csv", shop.shop)
    assert [str(fault) for fault in faults] == [
        'days.csv:2 · 2027-01-11 · open_share · "85" is not a share · write it in percent, like 85 %',
        "days.csv:3 · 2027-01-11 · the same day is on line 2 · keep one of them",
        'days.csv:3 · 2027-01-11 · lost · "maybe" is neither yes nor no · write yes or no',
        "days.csv:4 · 2027-01-12 · 600 min are more than the 480 min it is open · write the minutes lost",
        "days.csv:5 · 2027-01-16 · the shop is not open that day, so minutes lost say nothing · check the date, or write "
        "the share of the day",
        "days.csv:6 · 2027-01-13 · says nothing of the day · write an open_share, what was interrupted, or lost: yes or no",
        "days.csv:7 · 2027-01-14 · is lost, and yet a share of it was left · write lost: no, or leave the share blank",
        'days.csv:8 · date · "2027-02-30" is not in the calendar · write a date that exists, like 2027-01-08',
        "days.csv:9 · date · is blank · write the day, like 2027-01-08",
        'days.csv:10 · 2027-01-15 · minutes lost · "0.1" is less than a minute · a share of the day goes into a column '
        'interrupted, like "15 %"',
        'days.csv:11 · 2027-01-18 · interrupted · "0.1" has no unit · write the share of the day, like "15 %", or a time, '
        'like "0.1 min"',
        "days.csv:12 · 2027-01-19 · says both open_share and interrupted · keep one of them",
    ]


@pytest.mark.parametrize(
    ("head", "cell", "minutes"),
    [("hours", "0.2", 12.0), ("Time (h)", "0.2", 12.0), ("seconds", "90", 1.5), ("hours", "12 min", 12.0), ("took", "12", 12.0)],
)  # fmt: skip
def test_the_head_of_a_log_may_say_the_unit_of_its_times(head: str, cell: str, minutes: float) -> None:
    rows, faults = read_times(f"operation,{head}\ncut mitres,{cell}\n", "log.csv", WORKS)
    assert faults == []
    assert rows[0].minutes == pytest.approx(minutes)


def test_a_row_that_says_its_time_twice_is_told() -> None:
    _, faults = read_times("operation,hours,minutes\ncut mitres,1.5,90\ncut mitres,,90\n", "log.csv", WORKS)
    assert [(fault.line, fault.rule) for fault in faults] == [(2, "says both minutes and hours")]


def in_hours(text: str) -> str:
    head, *rows = text.splitlines()
    return (
        "\n".join((head, *(f"{row.rpartition(',')[0]},{float(row.rpartition(',')[2]) / 60:.3f}" for row in rows)))
        + "\n"
    )


def test_a_log_in_hours_is_not_taken_in_before_it_is_said_to_be_right(
    shopsim: Shell, shop: Scenario, trays: Path, tmp_path: Path
) -> None:
    log = tmp_path / "march.csv"
    log.write_text(in_hours(LOG), encoding="utf-8")
    before = trays.read_bytes()
    words = ("times", trays, log, "--write", "--replications", 99, "--jobs", 1)
    code, out, err = shopsim(*words)
    assert (code, out) == (2, "")
    told, last = err.splitlines()
    assert (
        f"{log} · its times are about 0.021 times the likely times of the file, where about 1.3 times is believed"
        in told
    )
    assert told.endswith("are they in hours? Write the unit, like 0.2 h, or call the column hours")
    assert last.startswith("nothing is taken in · mend the log or, if it is right as it stands, say --believe")
    assert trays.read_bytes() == before
    rows, _ = read_times(in_hours(LOG), "march.csv", list_loggable(shop))
    with pytest.raises(DoubtfulLog, match="are they in hours"):
        learn_from_logs(shop, Logs(times=tuple(rows), times_name="march.csv"), replications=99)
    code, out, _ = shopsim(*words, "--believe")
    assert code == 0
    assert "Believed as it stands: " in " ".join(out.split())
    assert trays.read_bytes() != before
    code, _, err = shopsim("times", trays, "--believe")
    assert (code, "there is no log to believe" in err) == (2, True)


def test_a_share_lost_that_is_logged_as_the_share_left_is_not_taken_in(shop: Scenario) -> None:
    text = "date,share\n" + "".join(f"2026-03-{day:02d},0.1\n" for day in (2, 3, 4, 5, 6, 9, 10, 11, 12))
    rows, faults = read_days(text, "days.csv", shop.shop)
    assert faults == []
    with pytest.raises(DoubtfulLog, match="are these the shares that were lost"):
        learn_from_logs(shop, Logs(days=tuple(rows), days_name="days.csv"), replications=99)


def test_shipped_orders_are_those_of_the_run() -> None:
    rows, faults = read_shipped(
        "order,shipped\nA1,2027-02-01\nA9,2027-02-01\na1,2027-02-02\nB2,\n", "out.csv", ["A1", "B2"]
    )
    assert [row.order for row in rows] == ["A1"]
    assert [(fault.line, fault.rule) for fault in faults] == [
        (3, 'there is no order "A9"'),
        (4, "is on line 2 too"),
        (5, "is blank"),
    ]


def test_a_log_becomes_counts_means_and_squares(shop: Scenario) -> None:
    learned, _ = with_log(shop, LOG)
    cut = next(cell for cell in learned.times if cell.operation == "cut")
    y = np.log(np.array([44, 41, 49, 46]) / 30)
    assert (cut.units, cut.times, cut.likely, cut.run, cut.log) == (4, 4, 30.0, "march", "march.csv")
    assert cut.mean == pytest.approx(y.mean(), abs=1e-6)
    assert cut.squares == pytest.approx(((y - y.mean()) ** 2).sum(), abs=1e-6)
    assert cut.outside == 0  # the file says 20 / 30 / 50


def test_a_row_for_several_units_counts_as_their_mean(shop: Scenario) -> None:
    learned, _ = with_log(shop, "operation,units,minutes\ncut,4,120\ncut,2,66\n")
    (cell,) = learned.times
    shift = [0.25**2 * (1 - 1 / n) / 2 for n in (4, 2)]
    assert (cell.units, cell.times) == (6, 2)
    assert cell.mean == pytest.approx((4 * (0.0 - shift[0]) + 2 * (np.log(33 / 30) - shift[1])) / 6, abs=1e-6)


def test_the_same_log_is_never_counted_twice_and_a_grown_one_only_by_its_new_rows(shop: Scenario) -> None:
    learned, _ = with_log(shop, LOG)
    again, notes = with_log(knowing(shop, learned), LOG)
    assert again == learned
    assert notes == ('"march.csv" has been taken in before, as "march.csv": nothing is counted twice.',)
    copied, _ = with_log(knowing(shop, learned), LOG, "copy of march.csv")
    assert copied == learned
    grown, notes = with_log(knowing(shop, learned), LOG + "march,sand,2,19\n", "april.csv")
    assert sum(cell.units for cell in grown.times) == 7
    assert notes == ('"april.csv" has grown by 1 rows since it was taken in.',)
    assert [log.log for log in grown.logs] == ["april.csv"]
    assert grown.times == with_log(shop, LOG + "march,sand,2,19\n", "april.csv")[0].times


def test_a_corrected_log_takes_the_place_of_the_old_one_and_another_log_adds(shop: Scenario) -> None:
    learned, _ = with_log(shop, LOG)
    mended, notes = with_log(knowing(shop, learned), LOG.replace("march,cut,1,44", "march,cut,1,34"))
    assert sum(cell.units for cell in mended.times) == 6
    assert notes == ('What was learned from an earlier "march.csv" about the same runs is replaced.',)
    more, _ = with_log(knowing(shop, learned), "run,operation,piece,minutes\nmay,cut,1,40\n", "may.csv")
    assert sum(cell.units for cell in more.times) == 7
    assert len(more.logs) == 2


def test_days_are_counted_once_and_two_logs_of_the_same_days_are_refused(shop: Scenario) -> None:
    def day(n: int, share: float | None = 0.8) -> DayRow:
        return DayRow(n, np.datetime64(f"2027-01-{n:02d}").astype(object), share, share is None)

    first = take_days(shop, [day(4), day(5), day(6, None)], "days.csv").learned
    (record,) = first.days
    assert (record.days, record.lost, record.shares) == (3, 1, 2)
    assert take_days(knowing(shop, first), [day(4), day(5), day(6, None)], "days.csv").learned == first
    grown = take_days(knowing(shop, first), [day(4), day(5), day(6, None), day(7)], "days.csv").learned
    assert [record.days for record in grown.days] == [4]
    later = take_days(knowing(shop, first), [day(11)], "january.csv").learned
    assert [record.days for record in later.days] == [3, 1]
    with pytest.raises(InputError, match="keep all days in one log"):
        take_days(knowing(shop, first), [day(5, 0.5), day(6)], "others.csv")


def test_times_that_contradict_their_guess_are_named_with_a_mend(shop: Scenario) -> None:
    # three times as long is what a guess of 20 / 30 / 50 min can be out by; six times is not
    learned, _ = with_log(shop, LOG.replace("44", "94").replace("41", "88").replace("49", "97").replace("46", "90"))
    assert flag_contradictions(knowing(shop, learned)) == []
    learned, _ = with_log(shop, LOG.replace("44", "194").replace("41", "188").replace("49", "197").replace("46", "190"))
    (flag,) = flag_contradictions(knowing(shop, learned))
    assert flag.startswith('"cut" contradicts its guess: beyond what all logged times share it takes ')
    assert "times what is stated (4 of 4 logged times lie outside 20 to 50 min); its times would fit " in flag
    low, likely, high = (float(part) for part in flag.split('"')[3].removesuffix(" min").split(" / "))
    assert low < 170 < likely < 197 < high  # drawn a little towards what was believed
    assert flag_contradictions(knowing(shop, with_log(shop, LOG)[0])) == []


def test_an_operation_that_is_out_beyond_what_all_share_is_named_after_few_times(shop: Scenario) -> None:
    # Everything else took as long as stated, cutting nine times: two logged times are too few to count those outside,
    # but not to see that.
    text = "run,operation,piece,minutes\n" + "".join(
        f"march,{name},{piece},{minutes}\n"
        for piece in (1, 2)
        for name, minutes in (("cut", 270), ("glue", 15), ("sand", 20), ("oil", 8))
    )
    (flag,) = flag_contradictions(knowing(shop, with_log(shop, text)[0]))
    times = re.match(
        r'"cut" contradicts its guess: beyond what all logged times share it takes ([0-9.]+) times what is', flag
    )
    assert times is not None
    assert 5 < float(times[1]) < 9
    low, likely, high = (float(part) for part in flag.split('"')[3].removesuffix(" min").split(" / "))
    assert low < likely < 270 < high
    (flag,) = flag_contradictions(knowing(shop, with_log(shop, text.replace("270", "2"))[0]))
    assert re.search(r"it takes only [0-9]+ % of what is stated", flag)


def test_times_of_an_operation_that_is_taken_at_its_word_are_told_to_change_nothing(trays: Path) -> None:
    # Stated as 30 min without low and high; logged 44, 41, 49 and 46 min: the geometric mean is 44.9 min, 1.50 times.
    plain = trays.read_text(encoding="utf-8").replace('work = "20 / 30 / 50 min"', 'work = "30 min"')
    trays.write_text(plain, encoding="utf-8")
    scenario = load_scenario(trays)
    (flag,) = flag_contradictions(knowing(scenario, with_log(scenario, LOG)[0]))
    assert flag == (
        '"cut" is stated without low / likely / high and so taken at its word: the log does not change it, though it took '
        "1.50 times the 30 min that are stated. Write low / likely / high to learn."
    )


def test_what_logged_days_change_is_shown_before_and_after(shop: Scenario) -> None:
    # Nine days worked at 0.8 and one lost, against a belief of 0.90 open and 5 % lost worth 30 days: (1.5 + 1) / 40.
    text = "date,open share\n" + "".join(f"2026-03-{day:02d},0.8\n" for day in (2, 3, 4, 5, 6, 9, 10, 11, 12))
    rows, faults = read_days(text + "2026-03-13,0\n", "days.csv", shop.shop)
    assert faults == []
    lesson = learn_from_logs(shop, Logs(days=tuple(rows), days_name="days.csv"), replications=99)
    table = lesson.answer.rows.set_index("what")
    share, lost = table.loc["open share"], table.loc["lost days"]
    assert share["before"] == pytest.approx(0.9)
    assert 0.8 < share["after"] < 0.85
    assert share["after_high"] - share["after_low"] < share["before_high"] - share["before_low"]
    assert lost["before"] < 0.05 < lost["after"] < 0.0625
    assert lost["logged"] == 10
    assert "10 logged days" in lesson.answer.sentence


def test_the_window_narrows_and_the_answer_says_from_what_to_what(shop: Scenario) -> None:
    rows, _ = read_times(LOG, "march.csv", list_loggable(shop))
    lesson = learn_from_logs(shop, Logs(times=tuple(rows), times_name="march.csv"), replications=199)
    table = lesson.answer.rows.set_index(["what", "name"])
    hours = table.loc[("hours a piece, expected", "")]
    assert hours["after_high"] - hours["after_low"] < hours["before_high"] - hours["before_low"]
    cut = table.loc[("typical time of", "cut")]
    assert cut["logged"] == 4
    assert 36 < cut["after"] < 48
    assert cut["before"] == pytest.approx(
        36.8, abs=0.1
    )  # a little over 30 x 1.2, as 20 / 30 / 50 leans to the long side
    assert f"{table.loc[('window', ''), 'before']:.0f} day" in lesson.answer.sentence
    assert "6 logged times" in lesson.answer.sentence


def test_hours_stand_as_written_and_as_expected_with_why_they_differ(shop: Scenario) -> None:
    rows, _ = read_times(LOG, "march.csv", list_loggable(shop))
    answer = learn_from_logs(shop, Logs(times=tuple(rows), times_name="march.csv"), replications=199).answer
    table = answer.rows.set_index("what")
    written, expected = table.loc["hours a piece, as written"], table.loc["hours a piece, expected"]
    work = sum(operation.work.likely for design in shop.all_designs for operation in design.operations)
    assert written["before"] == written["after"] >= work / 60  # set-ups come on top of likely work
    said = [note for note in answer.notes if note.startswith("Hours a piece")]
    assert len(said) == 1
    assert said[0].startswith(
        f"Hours a piece: {written['after']:.1f} as you wrote them (likely values and set-ups), {expected['after']:.1f} as we "
        f"expect them (the mean of 199 runs; 10 % are below {expected['after_low']:.1f}, 10 % above {expected['after_high']:.1f})."
    )
    assert "your logs say how long work really takes you" in said[0]


def stop_after(shop: Scenario, runs: int) -> Lesson:
    """A lesson of 200 replications before and 200 after, stopped when so many runs are done."""
    done = 0

    def count(finished: int, _total: int) -> None:
        nonlocal done
        done = finished

    logs = Logs(tuple(read_times(LOG, "march.csv", list_loggable(shop))[0]), "march.csv")
    return learn_from_logs(shop, logs, replications=200, on_progress=count, should_stop=lambda: done >= runs)


@pytest.mark.usefixtures("simpy_only")  # whose runs are made one at a time
def test_stopped_before_the_end_it_is_told_and_too_soon_nothing_is_said(shop: Scenario) -> None:
    lesson = stop_after(shop, 100)
    assert lesson.answer.partial
    assert lesson.answer.replications == 50
    with pytest.raises(Cancelled, match="stopped after 5 replications, too few for a window"):
        stop_after(shop, 10)


def test_what_was_learned_is_written_with_comments_kept_and_read_back(shop: Scenario, trays: Path) -> None:
    trays.write_text("# my own remark\n" + trays.read_text(encoding="utf-8") + "# the end\n", encoding="utf-8")
    learned, _ = with_log(shop, LOG)
    write_learned(trays, learned, shop)
    text = trays.read_text(encoding="utf-8")
    assert text.startswith("# my own remark\n")
    assert "# the end\n" in text
    assert load_scenario(trays).learned == learned
    assert load_scenario(trays).run == shop.run
    write_learned(trays, learned, load_scenario(trays))
    assert trays.read_text(encoding="utf-8") == text
    write_learned(trays, Learned(), load_scenario(trays))
    assert load_scenario(trays).learned == Learned()


def test_the_command_shows_writes_and_does_not_write_twice(shopsim: Shell, trays: Path, tmp_path: Path) -> None:
    log, days = tmp_path / "march.csv", tmp_path / "days.csv"
    log.write_text(LOG, encoding="utf-8")
    days.write_text("date,share,lost\n2027-01-04,90 %,no\n2027-01-05,,yes\n", encoding="utf-8")
    before = trays.read_text(encoding="utf-8")
    words = ("times", trays, log, "--days", days, "--replications", 99, "--jobs", 1)
    code, out, _ = shopsim(*words)
    assert code == 0
    assert "6 logged times and 2 logged days" in " ".join(out.split())
    assert trays.read_text(encoding="utf-8") == before
    code, _, err = shopsim(*words, "--write")
    assert (code, err) == (0, f"written to {trays}: the table [learned]\n")
    code, out, err = shopsim(*words, "--write", "--json")
    assert (code, err) == (0, f"{trays}: nothing new to write\n")
    told = json.loads(out)
    assert told["written"] is False
    assert len([note for note in told["notes"] if "nothing is counted twice" in note]) == 2
    assert {row["what"] for row in told["rows"]} >= {"window", "all guesses", "pace of", "open share", "lost days"}


def test_the_command_tells_faults_of_all_logs_at_once(shopsim: Shell, trays: Path, tmp_path: Path) -> None:
    (tmp_path / "log.csv").write_text("operation,minutes\ncutt,3\n", encoding="utf-8")
    (tmp_path / "days.csv").write_text("date,lost\nMonday,yes\n", encoding="utf-8")
    code, _, err = shopsim("times", trays, tmp_path / "log.csv", "--days", tmp_path / "days.csv")
    assert code == 2
    assert 'there is no operation "cutt" · write "cut"' in err
    assert '"Monday" is not a date' in err
    code, _, err = shopsim("times", trays, tmp_path / "none.csv")
    assert code == 2
    assert "there is no such file" in err
    code, _, err = shopsim("times", trays, "--write")
    assert code == 2
    assert "there is no log to learn from" in err


def test_faults_in_what_was_learned_are_told_like_all_others(trays: Path) -> None:
    text = trays.read_text(encoding="utf-8")
    trays.write_text(
        text
        + '[learned]\ntimes = [{ operation = "cut", units = 2, mean = 0.1, times = 3 }, { operation = "cuts", units = 1, mean = 0.1, mood = 3 }]\n'
        + "days = [{ days = 3, lost = 4 }]\n",
        encoding="utf-8",
    )
    reading = read_scenario(trays)
    assert [(fault.place, fault.rule) for fault in reading.faults] == [
        ("learned.times[1] · mood", "is not a known key"),
        ("learned.times[0] · times", "3 times were logged of 2 units"),
        ("learned.days[0] · lost", "4 of 3 days were lost"),
    ]
    trays.write_text(text + '[learned]\ntimes = [{ operation = "cuts", units = 1, mean = 0.1 }]\n', encoding="utf-8")
    (warning,) = read_scenario(trays).warnings
    assert warning.mend == 'write "cut" if it is the same'


def test_shipped_orders_are_placed_in_the_forecast_made_of_them(shop: Scenario) -> None:
    study = run_study({"now": shop}, replications=99)
    days = study.order_days["now"]
    close = study.outcomes["now"].queue.close
    late = int(days.max()) + 5
    rows = [ShippedRow(2, "1", close + np.timedelta64(late, "D").astype(object), ""), ShippedRow(3, "2", close, "")]
    first, second = compare_shipped(study, "now", rows)
    assert first.pit > 0.98
    assert second.pit < 0.02
    assert first.run == f"orders closed {close}"
    taken = take_delivered(Learned(delivered=(first,)), [first, second])
    assert taken.learned.delivered == (first, second)
    assert len(taken.notes) == 1


def delivered(pits: list[float], runs: int) -> Learned:
    return Learned(
        delivered=tuple(DeliveredOrder(order=str(n), pit=pit, run=f"run {n % runs}") for n, pit in enumerate(pits))
    )


def test_few_shipped_orders_change_no_window_and_it_says_from_how_many_on_they_do(shop: Scenario) -> None:
    close = run_study({"now": shop}, replications=1).outcomes["now"].queue.close
    day = close + np.timedelta64(9, "D").astype(object)
    rows = tuple(ShippedRow(n + 1, str(n), day, "") for n in (1, 2))
    lesson = learn_from_logs(shop, Logs(shipped=rows, shipped_name="shipped.csv"), replications=99)
    assert lesson.answer.sentence.startswith("With 2 shipped orders, the 80 % window of the last order stays at ")
    assert "2 shipped orders so far: from 8 on, windows are recalibrated on them." in lesson.answer.notes
    assert len(lesson.learned.delivered) == 2


def test_orders_that_have_shipped_are_no_longer_forecast(shop: Scenario) -> None:
    study = run_study({"now": shop}, replications=99)
    queue = study.outcomes["now"].queue
    # all but the first have shipped: what is forecast is the first, which the runs ship first
    rows = tuple(ShippedRow(n, order.id, queue.close, "") for n, order in enumerate(queue.orders) if n)
    lesson = learn_from_logs(shop, Logs(shipped=rows, shipped_name="shipped.csv"), replications=99)
    window = lesson.answer.rows.set_index("what").loc["last order ships"]
    first = study.order_days["now"][:, 0]
    assert window["after"] == float(np.sort(first)[49])
    assert window["after"] < float(np.sort(study.order_days["now"].max(axis=1))[49])
    assert (
        "Orders that have shipped are not forecast: the last order is that of the 1 that have not."
        in lesson.answer.notes
    )
    every = tuple(ShippedRow(n, order.id, queue.close, "") for n, order in enumerate(queue.orders))
    lesson = learn_from_logs(shop, Logs(shipped=every, shipped_name="shipped.csv"), replications=99)
    assert lesson.answer.sentence.endswith("all orders have shipped, so that none is forecast.")
    assert not lesson.answer.rows["what"].isin(["last order ships", "window"]).any()


def test_the_log_of_a_run_teaches_as_the_logs_of_times_days_and_orders_do(shop: Scenario, tmp_path: Path) -> None:
    name = shop.all_designs[0].operations[0].name
    day0 = shop.day0
    run_log = tmp_path / "run-log.csv"
    run_log.write_text(
        "when,what,operation,pieces,minutes\n"
        f"{day0} 08:30,done,{name},1,9\n{day0} 08:45,done,{name},2,11\n{day0},day shortened,,,30\n"
        f"{day0 + dt.timedelta(days=1)},day lost,,,\n{day0 + dt.timedelta(days=2)} 09:00,done,{name},3,10\n"
    )
    logs = read_logs(shop, run_log)
    # cutting is set up once a batch of two: of the first and the third 30 in 40 minutes are likely to have been the work
    assert [(row.operation, row.piece, row.minutes, row.run) for row in logs.times] == [
        (name, "1", 6.75, "run-log"), (name, "2", 11.0, "run-log"), (name, "3", 7.5, "run-log"),
    ]  # fmt: skip
    assert [(row.date, row.lost) for row in logs.days] == [(day0, False), (day0 + dt.timedelta(days=1), True)]
    times = tmp_path / "times.csv"
    times.write_text(f"run,operation,piece,minutes\nrun-log,{name},1,6.75\nrun-log,{name},2,11\nrun-log,{name},3,7.5\n")
    old = read_logs(shop, times)
    of_run = take_times(shop, logs.times, "run-log.csv").learned.times
    assert [(cell.mean, cell.squares, cell.units) for cell in of_run] == [
        (cell.mean, cell.squares, cell.units) for cell in take_times(shop, old.times, "times.csv").learned.times
    ]
    run_log.write_text("when,what,operation,pieces\n2027-01-11 08:30,done,nonsense,1\n")
    with pytest.raises(ScenarioError, match="there is no operation"):
        read_logs(shop, run_log)


@pytest.mark.parametrize("confidence", [0, 1, 80, True, "0.8"])
def test_a_window_of_no_confidence_is_refused(shop: Scenario, confidence: Any) -> None:
    with pytest.raises(InputError, match=r"is not between 0 and 1 · write 0\.8 for 80 %"):
        learn_from_logs(shop, Logs(), confidence)


def test_from_eight_orders_on_levels_are_read_where_they_held() -> None:
    pits = [0.30, 0.45, 0.62, 0.71, 0.80, 0.88, 0.93, 0.99]
    assert find_recalibration(delivered(pits[:7], 7)) is None
    found = find_recalibration(delivered(pits, 8))
    assert found is not None
    # rank ceil(9 x 0.8) = 8 of 8; ceil(9 x 0.5) = 5; ceil(9 x 0.95) = 9 is beyond what 8 orders can tell
    assert (found.upper(0.8), found.upper(0.5), found.upper(0.95)) == (0.99, 0.80, 0.99)
    assert (found.lower(0.1), found.lower(0.3)) == (0.1, 0.45)
    assert "8 shipped orders of 8 runs" in found.say(0.8)


def test_lucky_orders_of_few_runs_never_make_a_promise_bolder() -> None:
    early = [0.02, 0.03, 0.05, 0.06, 0.08, 0.1, 0.12, 0.15]
    few, many = find_recalibration(delivered(early, 1)), find_recalibration(delivered(early, 8))
    assert few is not None
    assert many is not None
    assert few.upper(0.8) == 0.8
    assert many.upper(0.8) == 0.15
    assert "only ever widens" in few.say(0.8)


def test_every_log_that_cannot_be_read_is_a_fault_with_its_name(shop: Scenario, tmp_path: Path) -> None:
    (tmp_path / "empty.csv").write_text("", encoding="utf-8")
    with pytest.raises(ScenarioError) as caught:
        read_logs(shop, tmp_path / "empty.csv", tmp_path, tmp_path / "gone.csv")
    said: list[Any] = [fault.rule for fault in caught.value.faults]
    assert said == ["is an empty log", "is a folder, not a file", "there is no such file"]


def test_the_schema_knows_what_is_written(shop: Scenario, trays: Path) -> None:
    learned, _ = with_log(shop, LOG)
    write_learned(trays, learned, shop)
    data = tomllib.loads(trays.read_text(encoding="utf-8"))["learned"]
    schema = scenario_schema()
    validator = jsonschema.Draft202012Validator({**schema["properties"]["learned"], "$defs": schema["$defs"]})
    assert list(validator.iter_errors(data)) == []
    data["times"][0]["mood"] = 3
    assert list(validator.iter_errors(data)) != []


def test_what_was_learned_may_stand_in_a_file_that_several_scenarios_share(shop: Scenario, trays: Path) -> None:
    learned, _ = with_log(shop, LOG)
    write_learned(trays, learned, shop)
    text = trays.read_text(encoding="utf-8")
    head, _, tail = text.partition("[learned]")
    (trays.parent / "shop-log.toml").write_text("[learned]" + tail, encoding="utf-8")
    trays.write_text('learned = "shop-log.toml"\n' + head, encoding="utf-8")
    assert load_scenario(trays).learned == learned
    assert write_learned(trays, Learned(), load_scenario(trays)) == trays.parent / "shop-log.toml"
    assert load_scenario(trays).learned == Learned()
    assert trays.read_text(encoding="utf-8").startswith('learned = "shop-log.toml"\n')
