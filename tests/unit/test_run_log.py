"""The log of a run as a file: what is read, what is told by row, and how a row is added to whatever stands there."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from shopsim.errors import InputError
from shopsim.scenario.appending import append_row, complete_head, find_run_log
from shopsim.scenario.happenings import RUN_COLUMNS
from shopsim.scenario.run_log import RunLog, decode_log, read_run_log

HEAD = ",".join(RUN_COLUMNS)
ROW = {"when": "2027-02-03 21:00", "what": "done", "operation": "glue, both", "batch": "2", "pieces": "6-8"}


def read(text: str) -> RunLog:
    return read_run_log(text, "log.csv")


def told(text: str) -> list[str]:
    return [str(fault) for fault in read(text).faults]


def read_file(path: Path) -> RunLog:
    return read_run_log(decode_log(path.read_bytes()), "log.csv")


def test_a_row_says_what_its_cells_say() -> None:
    (row,) = read(
        "when,what,operation,batch,pieces,units,minutes\n2027-02-03 21:00:30,finished,glue,2,6-8,1,42,\n"
    ).rows
    assert (row.line, row.date, row.minute) == (2, dt.date(2027, 2, 3), 21 * 60 + 0.5)
    assert (row.what, row.operation, row.batch, row.pieces) == ("done", "glue", 2, (6, 7, 8))
    assert (row.units, row.minutes) == ((1,), 42.0)


@pytest.mark.parametrize(
    "text",
    [
        "when,what,operation\r\n2027-02-03 21:00,done,glue\r\n",
        "\ufeffwhen;what;operation\n2027-02-03T21:00;done;glue\n",
        "When\tWhat\tOperation\n2027-02-03 21:00:00\tDone\tglue\n",
        "what,operation,when\ndone,glue,03.02.2027 21:00\n",
    ],
)
def test_what_spreadsheets_make_of_it_is_read(text: str) -> None:
    (row,) = read(text).rows
    assert (row.what, row.operation, row.date, row.minute) == ("done", "glue", dt.date(2027, 2, 3), 1260.0)


def test_all_faults_are_told_by_row_with_a_mend() -> None:
    assert told(
        "when,what,operation,batch,pieces,minutes,order\n"
        "2027-02-30 21:00,done,glue,1,,,\n"
        "2027-02-03 21:00,donne,glue,1,,,\n"
        "2027-02-03 21:00,done,,0,3-1,x,\n"
        "2/3/2027 21:00,shipped,,,,,\n"
    ) == [
        'log.csv:2 · when · "2027-02-30" is not in the calendar · write a date that exists, like 2027-01-08',
        'log.csv:3 · what · "donne" is nothing that happens · write "done"',
        'log.csv:4 · batch · "0" is not a number · write a whole number, like 2',
        'log.csv:4 · pieces · "3-1" runs backwards or too far · write the lower number first, like 1-3',
        'log.csv:4 · minutes · "x" cannot be read as a time · write something like "12 min"',
        "log.csv:4 · operation · is blank · name the operation as the scenario does",
        'log.csv:5 · when · "2/3/2027 21:00" is not a day with a time · write it like 2027-02-03 21:00',
        "log.csv:5 · order · is blank · name the order that shipped",
    ]


def test_what_is_taken_back_is_not_there_nor_are_its_faults() -> None:
    log = read(
        "when,what,operation,row\n2027-02-03 21:00,done,glue,\n2027-02-03 21:00,nonsense,,\n"
        "2027-02-03 21:05,taken back,,3\n2027-02-03 21:06,taken back,,2\n2027-02-03 21:07,taken back,,5\n"
    )
    assert not log.faults
    assert [row.line for row in log.rows] == [2]  # row 6 took back the taking back of row 2


def test_a_taking_back_of_nothing_is_told() -> None:
    assert told(
        "when,what,row\n2027-02-03 21:00,taken back,\n2027-02-03 21:00,taken back,9\n2027-02-03 21:00,taken back,1\n"
    ) == [
        "log.csv:2 · row · is blank · name the row that is taken back in the column row",
        "log.csv:3 · row · row 9 does not come before this one · name an earlier row",
        "log.csv:4 · row · row 1 is the head · rows are counted from 1 with the head",
    ]


def test_an_empty_log_is_a_log() -> None:
    assert read("") == RunLog((), (), ())
    assert read(f"{HEAD}\n") == RunLog((), (), ())


def test_the_log_of_a_run_stands_beside_its_scenario(tmp_path: Path) -> None:
    scenario = tmp_path / "stools.toml"
    assert find_run_log(scenario) == tmp_path / "stools-run-log.csv"
    (tmp_path / "run-log.csv").write_text(f"{HEAD}\n")
    assert find_run_log(scenario) == tmp_path / "run-log.csv"
    (tmp_path / "stools-run-log.csv").write_text(f"{HEAD}\n")
    assert find_run_log(scenario) == tmp_path / "stools-run-log.csv"


def test_rows_are_added_one_after_the_other(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    assert [append_row(path, {**ROW, "batch": str(n)}) for n in (1, 2, 3)] == [2, 3, 4]
    assert [(row.line, row.batch, row.operation) for row in read_file(path).rows] == [
        (2, 1, "glue, both"), (3, 2, "glue, both"), (4, 3, "glue, both"),
    ]  # fmt: skip


def test_a_row_takes_the_form_of_the_file(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    held = b"\xef\xbb\xbfnote;what;when;operation;batch;pieces\r\nhello;done;2027-02-03 20:00;glue;1;1"
    path.write_bytes(held)
    append_row(path, {**ROW, "note": "two\nlines; and more"})
    assert path.read_bytes() == held + b'\r\n"two lines; and more";done;2027-02-03 21:00;glue, both;2;6-8\r\n'
    assert [row.line for row in read_file(path).rows] == [2, 3]
    with pytest.raises(InputError, match='has no column "order" · add it at the end of the head; nothing is logged'):
        append_row(path, {"when": "2027-02-03", "what": "shipped", "order": "1"})


@pytest.mark.parametrize("note", ["", 'a "quoted", long note', "fünf Fugen"])
def test_cut_off_anywhere_only_the_last_row_is_lost_and_the_next_one_stands(tmp_path: Path, note: str) -> None:
    whole = tmp_path / "whole.csv"
    append_row(whole, {**ROW, "batch": "1"})
    first = whole.stat().st_size
    append_row(whole, {**ROW, "note": note})
    data = whole.read_bytes()
    last = data.index(b",6-8,", first) + data[data.index(b",6-8,", first) :].index(b",,,,,,,,,") + len(",,,,,,,,,") - 1
    for cut in range(first, len(data)):
        path = tmp_path / f"cut-{cut}.csv"
        path.write_bytes(data[:cut])
        log = read_file(path)
        assert [row.batch for row in log.rows][:1] == [1]
        assert not log.faults
        if first < cut <= last:
            assert len(log.rows) == 1
            assert log.remarks == ("log.csv:3 · is cut off, as by a power cut, and is left out · log it again",)
        append_row(path, {**ROW, "batch": "3"})
        assert path.read_bytes().startswith(data[:cut])
        after = read_file(path)
        assert not after.faults
        assert [row.batch for row in after.rows if row.batch != 2] == [1, 3]
        assert after.rows[: len(log.rows)] == log.rows


def test_a_cut_that_leaves_bytes_of_nothing_is_a_cut(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    append_row(path, ROW)
    path.write_bytes(path.read_bytes() + b"2027-02-03 2\x00\x00\x00")
    append_row(path, {**ROW, "batch": "3"})
    log = read_file(path)
    assert [row.batch for row in log.rows] == [2, 3]
    assert not log.faults


def test_a_log_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be written: is a directory · nothing is logged"):
        append_row(tmp_path, ROW)
    wide = tmp_path / "wide.csv"
    wide.write_bytes("when,what\n".encode("utf-16"))
    with pytest.raises(InputError, match="is written in UTF-16 · save it as UTF-8; nothing is logged"):
        append_row(wide, ROW)


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_a_head_that_lacks_columns_is_completed_and_no_row_is_changed(tmp_path: Path, end: str) -> None:
    text = f'\ufeffWhen;What;Step{end}2027-02-03 21:00;done;"cut; twice"{end}2027-02-03 22:00;done;glue'
    path = tmp_path / "log.csv"
    whole = complete_head(text)
    assert whole.splitlines()[0].startswith("\ufeffWhen;What;Step;batch;")
    assert whole.splitlines()[1:] == text.splitlines()[1:]
    path.write_text(whole, encoding="utf-8")
    append_row(path, {**ROW, "when": "2027-02-03 23:00"})
    log = read_file(path)
    assert not log.faults
    assert not log.remarks
    assert [row.operation for row in log.rows][:2] == ["cut; twice", "glue"]
    assert log.rows[2].batch == 2
    assert complete_head(whole) == whole
    assert complete_head("") == ""
    assert complete_head(f"when,what,operation\n{'2027-02-03 21:00,do'}").endswith(",do")  # cut off, and left so
