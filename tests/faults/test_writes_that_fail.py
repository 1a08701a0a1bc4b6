"""A full disk, a folder without rights, another program in the same file: a clear message, and nothing is lost."""

from __future__ import annotations

import errno
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from shopsim.answers.log_files import write_learned
from shopsim.cli import main
from shopsim.errors import InputError, ScenarioError
from shopsim.scenario import load_scenario, save_scenario
from shopsim.scenario.evidence import Learned, LoggedDays
from shopsim.scenario.writing import edit_file

from .disk_limits import room_for
from .writers import TEXT, WRITERS, make_scenario

TESTS = Path(__file__).parents[1]
TRAYS = (TESTS / "bad_input" / "files" / "trays.toml").read_text(encoding="utf-8")


def names_in(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


# ---- the disk is full --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("share", [0.0, 0.5, 0.99])
@pytest.mark.parametrize("what", WRITERS)
def test_where_there_is_no_room_the_old_file_stays(what: str, share: float, tmp_path: Path) -> None:
    writer = WRITERS[what]
    writer.write(tmp_path, 1)
    most = int((tmp_path / writer.name).stat().st_size * share)
    writer.write(tmp_path, 0)
    with pytest.raises(InputError) as caught, room_for(most):
        writer.write(tmp_path, 1)
    told = f"{tmp_path / writer.name} · cannot be written: file too large · it is left as it was; check the folder and the disk"
    if what == "tables as a workbook":  # each sheet is first made elsewhere
        told = "the workbook cannot be put together: file too large · make room on the disk that holds temporary files"
    assert str(caught.value) == told
    assert writer.read(tmp_path) == 0
    assert names_in(tmp_path) == sorted([writer.name, *writer.beside])
    writer.write(tmp_path, 2)
    assert writer.read(tmp_path) == 2


def test_where_there_is_no_room_for_a_new_file_there_is_none_of_it(tmp_path: Path) -> None:
    with pytest.raises(InputError), room_for(20):
        save_scenario(make_scenario(0), tmp_path / "shop.toml")
    assert names_in(tmp_path) == []


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EDQUOT, errno.EIO, errno.EROFS, errno.EMFILE])
@pytest.mark.parametrize("call", ["open", "fdopen", "fsync", "chmod", "replace"])
def test_whatever_call_fails_the_old_file_stays(
    call: str, number: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "shop.toml"
    save_scenario(make_scenario(0), path)

    def fail(*_words: object, **_options: object) -> object:
        raise OSError(number, os.strerror(number))

    with monkeypatch.context() as patched:
        patched.setattr(os, call, fail)
        with pytest.raises(InputError) as caught:
            save_scenario(make_scenario(1), path)
    assert str(caught.value) == (
        f"{path} · cannot be written: {os.strerror(number).lower()} · it is left as it was; check the folder and the disk"
    )
    assert load_scenario(path) == make_scenario(0)
    assert names_in(tmp_path) == ["shop.toml"]


@pytest.fixture
def trays(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A scenario with logs beside it, in the folder that the commands are given in."""
    (tmp_path / "trays.toml").write_text(TRAYS)
    (tmp_path / "log.csv").write_text("operation,piece,minutes\nsand,1,22\nsand,2,25\n")
    monkeypatch.chdir(tmp_path)
    return tmp_path / "trays.toml"


COMMANDS = {
    "learning": (("times", "trays.toml", "log.csv", "--write", "--replications", "100"), "trays.toml"),
    "tables": (("once", "trays.toml", "--likely", "--out", "tables"), "tables/pieces.csv"),
    "keeping runs": (("batches", "trays.toml", "--sizes", "3", "--replications", "20", "--save", "kept"), "kept"),
    "a schema": (("schema", "--out", "schema.json"), "schema.json"),
}


@pytest.mark.parametrize("what", COMMANDS)
def test_a_command_on_a_full_disk_says_which_file_and_leaves_what_was_there(
    what: str, trays: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words, name = COMMANDS[what]
    jobs = [] if words[0] in ("once", "schema") else ["--jobs", "1"]
    with room_for(100):
        code = main([*words, *jobs])
    said = capsys.readouterr()
    assert code == 2
    assert said.err.splitlines()[-1] == (
        f"{name} · cannot be written: file too large · it is left as it was; check the folder and the disk"
    )
    assert "Traceback" not in said.err
    assert trays.read_text() == TRAYS
    left = [path.name for path in trays.parent.rglob("*") if path.is_file()]
    assert sorted(left) == ["log.csv", "trays.toml"]


@pytest.mark.parametrize(
    "words",
    [("once", "trays.toml", "--likely"), ("delivery", "trays.toml", "--replications", "20", "--jobs", "1")],
    ids=["once", "delivery"],
)
def test_a_disk_that_fills_up_at_the_report_leaves_whole_tables_and_the_result_on_the_screen(
    words: tuple[str, ...], trays: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """There is room for each table, and none for the report, which holds the script that draws its charts."""
    assert main([*words, "--out", "roomy"]) == 0
    shown = capsys.readouterr().out
    with room_for(100_000):
        code = main([*words, "--out", "tables"])
    said = capsys.readouterr()
    told = (
        "tables/report.html · cannot be written: file too large · it is left as it was; check the folder and the disk"
    )
    assert (code, said.err.splitlines()[-1]) == (2, told)
    assert said.out == shown != ""
    tables = {path.name: path.read_bytes() for path in Path("tables").glob("*.csv")}
    assert len(tables) >= 2
    assert tables == {path.name: path.read_bytes() for path in Path("roomy").glob("*.csv")}


@pytest.mark.parametrize("words", [("schema",), ("check", "trays.toml"), ("once", "trays.toml", "--json")])
def test_a_full_disk_behind_the_output_is_told(words: tuple[str, ...], trays: Path) -> None:
    with open("/dev/full", "wb") as full:
        done = subprocess.run(
            [sys.executable, "-m", "shopsim.cli", *words],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
            cwd=trays.parent,
            env={**os.environ, "PYTHONPATH": str(TESTS.parent)},
        )
    assert (done.returncode, done.stderr) == (2, "the output cannot be written: no space left on device\n")


# ---- no right to write -------------------------------------------------------------------------------------------


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that anybody may look into, whatever the rights of the folders that tests are given else."""
    folder = Path(tempfile.mkdtemp(prefix="faults-"))
    folder.chmod(0o755)
    yield folder
    for inner in folder.iterdir():
        inner.chmod(0o755)
    shutil.rmtree(folder)


def try_without_rights(folder: Path) -> list[str]:
    """What is told of each kind of file by a process that may not write there."""
    done = subprocess.run(
        [sys.executable, "-m", "faults.without_rights", str(folder)],
        cwd=TESTS,
        env={**os.environ, "PYTHONPATH": str(TESTS.parent)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stderr == ""
    return done.stdout.splitlines()


def test_a_folder_that_may_not_be_written_to_is_told_and_keeps_what_it_has(open_folder: Path) -> None:
    for what, writer in WRITERS.items():
        (open_folder / what).mkdir()
        writer.write(open_folder / what, 0)
        (open_folder / what / writer.name).chmod(0o666)
        (open_folder / what).chmod(0o555)
    told = try_without_rights(open_folder)
    assert len(told) == len(WRITERS)
    for line, (what, writer) in zip(told, WRITERS.items(), strict=True):
        path = open_folder / what / writer.name
        if what == "a table as CSV":  # is told before anything is worked out
            assert line == f"{what}: {path.parent} · cannot be written to · name another folder"
        else:
            end = "cannot be written: permission denied · it is left as it was; check the folder and the disk"
            assert line == f"{what}: {path} · {end}"
        assert writer.read(path.parent) == 0
        assert names_in(path.parent) == sorted([writer.name, *writer.beside])


def test_a_file_that_is_marked_as_not_to_be_changed_is_not_replaced(open_folder: Path) -> None:
    for what, writer in WRITERS.items():
        (open_folder / what).mkdir()
        writer.write(open_folder / what, 0)
        (open_folder / what / writer.name).chmod(0o444)
        (open_folder / what).chmod(0o777)
    for line, (what, writer) in zip(try_without_rights(open_folder), WRITERS.items(), strict=True):
        path = open_folder / what / writer.name
        assert line == f"{what}: {path} · may only be read · give yourself the right to change it, or name another file"
        assert writer.read(path.parent) == 0


# ---- another program is at the same file -------------------------------------------------------------------------


def test_a_file_that_was_changed_since_it_was_seen_is_left_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "shop.toml"
    path.write_text(TEXT)
    seen = path.read_bytes()
    path.write_text(TEXT + "# added in a text editor\n")
    for write in (
        lambda: save_scenario(make_scenario(1), path, seen=seen),
        lambda: edit_file(path, {"run.orders": 9}, seen=seen),
    ):
        with pytest.raises(InputError) as caught:
            write()
        assert str(caught.value) == (
            f"{path} · was changed by another program meanwhile · nothing is written; look at it and try again"
        )
        assert path.read_text() == TEXT + "# added in a text editor\n"
        assert names_in(tmp_path) == ["shop.toml"]


@pytest.mark.parametrize(
    ("deed", "told"),
    [
        ("change", "was changed by another program meanwhile · nothing is written; look at it and try again"),
        ("remove", "was taken away by another program meanwhile · nothing is written"),
    ],
)
def test_a_file_that_is_changed_while_it_is_edited_is_left_as_it_is(
    deed: str, told: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "shop.toml"
    path.write_text(TEXT)
    write_out = os.fsync

    def another_program(number: int) -> None:
        write_out(number)
        if deed == "change":
            path.write_text(TEXT + "# added\n")
        else:
            path.unlink()

    monkeypatch.setattr(os, "fsync", another_program)
    with pytest.raises(InputError) as caught:
        edit_file(path, {"run.orders": 9})
    assert str(caught.value) == f"{path} · {told}"
    assert [file.read_text() for file in tmp_path.iterdir()] == ([TEXT + "# added\n"] if deed == "change" else [])


def learned(days: int) -> Learned:
    return Learned(days=(LoggedDays(days=days, lost=1, log="days.csv"),))


def test_what_another_program_has_learned_meanwhile_is_not_written_over(tmp_path: Path) -> None:
    path = tmp_path / "shop.toml"
    path.write_text(TEXT)
    before = load_scenario(path)
    write_learned(path, learned(10), before)
    with pytest.raises(InputError) as caught:
        write_learned(path, learned(12), before)
    assert str(caught.value) == (
        f"{path} · what it has learned was changed by another program meanwhile · nothing is written; "
        "run the command again"
    )
    assert load_scenario(path).learned == learned(10)


def test_what_is_changed_elsewhere_in_the_file_meanwhile_stays_beside_what_is_learned(tmp_path: Path) -> None:
    path = tmp_path / "shop.toml"
    path.write_text(TEXT)
    before = load_scenario(path)
    path.write_text(TEXT.replace("orders = 5", "orders = 8") + "# added\n")
    write_learned(path, learned(10), before)
    assert load_scenario(path).learned == learned(10)
    assert load_scenario(path).run.orders == 8
    assert "# added\n" in path.read_text()


@pytest.mark.parametrize("text", [TEXT.replace("orders = 5", "orders = "), ""])
def test_learning_is_not_written_into_a_file_that_is_broken_meanwhile(text: str, tmp_path: Path) -> None:
    path = tmp_path / "shop.toml"
    path.write_text(TEXT)
    before = load_scenario(path)
    path.write_text(text)
    with pytest.raises(ScenarioError) as caught:
        write_learned(path, learned(10), before)
    assert caught.value.faults[0].mend
    assert path.read_text() == text


def test_the_command_does_not_write_over_what_another_one_has_learned(
    trays: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    import shopsim.cli.times_command as command

    learn = command.learn_from_logs

    def meanwhile(*words: Any, **options: Any) -> Any:
        lesson = learn(*words, **options)
        edit_file(trays, {"learned.days": [{"days": 3, "lost": 1}]})
        return lesson

    monkeypatch.setattr(command, "learn_from_logs", meanwhile)
    code = main(["times", "trays.toml", "log.csv", "--write", "--replications", "100", "--jobs", "1"])
    assert code == 2
    assert (
        capsys.readouterr().err.splitlines()[-1].startswith("trays.toml · what it has learned was changed by another")
    )
    kept = load_scenario(trays).learned
    assert [log.days for log in kept.days] == [3]
    assert kept.times == ()
