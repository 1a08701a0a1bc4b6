"""It holds that the files a command writes are safe: no cell is a formula, and nothing but the program's own is replaced."""

from __future__ import annotations

import csv
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from shopsim import load_scenario

Command = Callable[..., tuple[int, str, str]]


def run_of_few(command: str) -> tuple[object, ...]:
    """The words that keep a command short."""
    few: dict[str, tuple[object, ...]] = {
        "once": (),
        "holdups": ("--replications", 5, "--accounted", 1, "--jobs", 1),
        "times": ("--replications", 60, "--jobs", 1),
    }
    return few.get(command, ("--replications", 20, "--jobs", 1))


@pytest.mark.parametrize("command", ["once", "decide", "batches", "clamps", "holdups", "delivery", "times"])
def test_no_cell_of_any_file_is_a_formula(shopsim: Command, trays: Path, tmp_path: Path, command: str) -> None:
    hostile = trays.read_text(encoding="utf-8")
    for name, other in (
        ("band clamp", "\u00a0=2+2"), ("glue", "=1+1"), ("sand", "@sum"), ("oil", " -1+2"), ("maker", "+cmd"),
        ("helper", "=HYPERLINK(1)"), ("bench", "-bench"), ("tray", "=tray"),
    ):  # fmt: skip
        hostile = hostile.replace(f'"{name}"', f'"{other}"')
    (tmp_path / "book.csv").write_text("id,date\n=9+9,2027-01-08\n+8,2027-01-08\n", encoding="utf-8")
    trays.write_text(hostile.replace("orders = 3", 'orders = "book.csv"'), encoding="utf-8")
    folder = tmp_path / "out"
    code, _, err = shopsim(command, trays, *run_of_few(command), "--out", folder)
    assert code == 0, err
    cells = [
        cell
        for path in folder.glob("*.csv")
        for row in csv.reader(path.read_text(encoding="utf-8").splitlines())
        for cell in row
    ]
    texts = [cell for cell in cells if not cell.lstrip("-").replace(".", "").replace("e-", "").isdigit()]
    assert [cell for cell in texts if cell.strip("\u00a0\t ")[:1] in tuple("=+-@") and cell.strip()] == []
    assert any(cell.startswith("'") for cell in texts)


FEW = ("--sizes", 2, "--replications", 5, "--jobs", 1)


def test_save_replaces_a_study_of_this_scenario_and_nothing_else(shopsim: Command, trays: Path, tmp_path: Path) -> None:
    (tmp_path / "book.csv").write_text("id,date\nA,2027-01-08\n", encoding="utf-8")
    trays.write_text(trays.read_text(encoding="utf-8").replace("orders = 3", 'orders = "book.csv"'), encoding="utf-8")
    other, notes, kept = tmp_path / "other.toml", tmp_path / "notes.txt", tmp_path / "kept.study"
    other.write_text(trays.read_text(encoding="utf-8").replace("count = 2", "count = 3"), encoding="utf-8")
    notes.write_text("mine", encoding="utf-8")
    assert shopsim("batches", other, *FEW, "--save", kept)[0] == 0
    for target, told in (
        (trays, "is what the scenario is read from · name another file"),
        (tmp_path / "book.csv", "is what the scenario is read from · name another file"),
        (other, "is no study, so it is not replaced · name another file, or add --replace"),
        (notes, "is no study, so it is not replaced · name another file, or add --replace"),
        (kept, "so it is not replaced · name another file, or add --replace"),
    ):
        before = target.read_bytes()
        code, out, err = shopsim("batches", trays, *FEW, "--save", target)
        assert (code, out) == (2, ""), "told before anything is run"
        assert err.startswith(f"--save {target} · ")
        assert err.endswith(f"{told}\n")
        assert target.read_bytes() == before
    assert shopsim("batches", trays, *FEW, "--save", trays, "--replace")[0] == 2
    for target in (notes, kept):
        assert shopsim("batches", trays, *FEW, "--save", target, "--replace")[0] == 0
        assert shopsim("batches", trays, *FEW, "--save", target)[0] == 0


def test_a_study_of_another_number_of_orders_of_this_scenario_is_replaced(
    shopsim: Command, trays: Path, tmp_path: Path
) -> None:
    kept = tmp_path / "kept.study"
    words = ("delivery", trays, "--replications", 20, "--jobs", 1, "--save", kept)
    assert [shopsim(*words, "--orders", 4)[0], shopsim(*words, "--orders", 4)[0], shopsim(*words)[0]] == [0, 0, 0]


def test_a_schema_replaces_a_schema_and_nothing_else(shopsim: Command, trays: Path, tmp_path: Path) -> None:
    before, schema = trays.read_bytes(), tmp_path / "scenario.schema.json"
    code, out, err = shopsim("schema", "-o", trays)
    assert (code, out, trays.read_bytes()) == (2, "", before)
    assert (
        err
        == f"{trays} · is no schema that shopsim wrote, so it is not replaced · name another file, or add --replace\n"
    )
    assert [shopsim("schema", "-o", schema)[0] for _ in range(2)] == [0, 0]
    (tmp_path / "other.json").write_text("[1]", encoding="utf-8")
    assert shopsim("schema", "-o", tmp_path / "other.json")[0] == 2
    assert shopsim("schema", "-o", tmp_path / "other.json", "--replace")[0] == 0
    assert (tmp_path / "other.json").read_bytes() == schema.read_bytes()


@pytest.mark.parametrize("name", ["pieces.csv", "report.html"])
def test_out_replaces_what_it_wrote_and_nothing_that_was_changed_since(
    shopsim: Command, trays: Path, tmp_path: Path, name: str
) -> None:
    folder = tmp_path / "run"
    words = ("once", trays, "--likely", "--out", folder)
    assert shopsim(*words)[0] == 0
    assert shopsim(*words, "--set", "run.batch=1")[0] == 0, "its own files are replaced"
    (folder / name).write_text("my own notes", encoding="utf-8")
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    code, _, err = shopsim(*words)
    assert (code, {path.name: path.read_bytes() for path in folder.iterdir()}) == (2, before)
    assert err == (
        f"{folder} · holds {name}, which was not written by shopsim or was changed since, so it is not replaced "
        "· name another folder, or add --replace\n"
    )
    assert shopsim(*words, "--replace")[0] == 0
    assert shopsim(*words)[0] == 0


def test_out_touches_no_file_of_another_folder_of_mine(shopsim: Command, trays: Path) -> None:
    (trays.parent / "pieces.csv").write_text("oak,12\n", encoding="utf-8")
    code, out, _ = shopsim("once", trays, "--likely", "--out", trays.parent)
    assert (code, sorted(path.name for path in trays.parent.iterdir())) == (2, ["pieces.csv", "trays.toml"])
    assert "Pieces" in out, "the answer is not lost"


@pytest.mark.parametrize(
    "words",
    [("once", "trays", "--out"), ("schema", "-o"), ("batches", "trays", "--save"), ("batches", "trays", "--from")],
)
@pytest.mark.parametrize("name", ["", " "])
def test_a_blank_name_is_refused(shopsim: Command, trays: Path, words: tuple[str, ...], name: str) -> None:
    code, out, err = shopsim(*(trays if word == "trays" else word for word in words), name)
    assert (code, out) == (2, "")
    assert "no name is given; write one, or leave the option out" in err


def test_what_was_replaced_before_writing_failed_is_told(
    shopsim: Command, trays: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "run"
    words = ("once", trays, "--likely", "--out", folder)
    assert shopsim(*words)[0] == 0
    swap = os.replace

    def fail(source: object, target: object) -> None:
        if str(target).endswith("tasks.csv"):
            raise OSError(28, "No space left on device")
        swap(source, target)  # type: ignore[arg-type]

    with monkeypatch.context() as patched:
        patched.setattr(os, "replace", fail)
        code, out, err = shopsim(*words, "--set", "run.batch=1")
    assert (code, "Pieces" in out) == (2, True)
    first, second = err.splitlines()
    assert first == f"replaced in {folder}: pieces.csv; then it failed"
    assert second.startswith(f"{folder / 'tasks.csv'} · cannot be written: no space left on device")
    assert shopsim(*words)[0] == 0, "what was written before the failure is known as the program's own"


@pytest.mark.parametrize("command", ["check", "once", "delivery"])
def test_what_is_passed_over_in_a_book_is_named_once(
    shopsim: Command, trays: Path, tmp_path: Path, command: str
) -> None:
    (tmp_path / "book.csv").write_text("id,date,Price,qty\nA,2027-01-08,120,1\n", encoding="utf-8")
    trays.write_text(trays.read_text(encoding="utf-8").replace("orders = 3", 'orders = "book.csv"'), encoding="utf-8")
    code, _, err = shopsim(command, trays, *(() if command == "check" else run_of_few(command)))
    assert (code, err.count('book.csv:1 · head · passed over: "Price" · ')) == (0, 1)


LOG = "operation,piece,minutes\nsand,1,22\nsand,2,25\n"
SHORT = ("--write", "--replications", 100, "--jobs", 1)


@pytest.fixture
def log(tmp_path: Path) -> Path:
    path = tmp_path / "log.csv"
    path.write_text(LOG, encoding="utf-8")
    return path


def no_study(*_words: object, **_options: object) -> None:
    raise AssertionError("the study was begun")


def test_a_file_that_cannot_be_written_is_found_before_the_study(
    shopsim: Command, trays: Path, log: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("shopsim.cli.times_command.learn_from_logs", no_study)
    before = trays.read_bytes()

    def full(_number: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    code, out, err = shopsim("times", trays, log, *SHORT)
    assert (code, out, trays.read_bytes()) == (2, "", before)
    assert err.startswith(f"{trays} · cannot be written: no space left on device")
    access = os.access
    monkeypatch.setattr(os, "access", lambda path, mode: mode != os.W_OK and access(path, mode))
    code, out, err = shopsim("times", trays, log, *SHORT)
    assert (code, out, trays.read_bytes()) == (2, "", before)
    assert err.startswith(f"{trays} · may only be read")


def test_the_answer_is_printed_where_writing_fails_after_the_study(
    shopsim: Command, trays: Path, log: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = trays.read_bytes()

    def fail(*_paths: object) -> None:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(os, "replace", fail)
    code, out, err = shopsim("times", trays, log, *SHORT)
    assert (code, trays.read_bytes()) == (2, before)
    assert "sand" in out
    assert err.endswith(
        f"{trays} · cannot be written: input/output error · it is left as it was; check the folder and the disk\n"
    )


@pytest.mark.parametrize("inside", ["# mine\n[learned]\n", "# mine\n", ""], ids=["under a head", "whole", "two files"])
def test_what_was_learned_goes_into_the_file_that_learned_stands_in(
    shopsim: Command, trays: Path, log: Path, tmp_path: Path, inside: str
) -> None:
    trays.write_text('learned = "known.toml"\n' + trays.read_text(encoding="utf-8"), encoding="utf-8")
    before, known = trays.read_bytes(), tmp_path / "known.toml"
    known.write_text(inside or 'learned = "further.toml"\n', encoding="utf-8")
    if not inside:
        known = tmp_path / "further.toml"
        known.write_text("# mine\n[learned]\n", encoding="utf-8")
    code, _, err = shopsim("times", trays, log, *SHORT)
    assert (code, err) == (0, f"written to {known}: the table [learned]\n")
    assert trays.read_bytes() == before
    assert known.read_text(encoding="utf-8").startswith("# mine\n")
    assert load_scenario(trays).learned.times


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_ends_of_lines_and_the_mark_in_front_are_kept(shopsim: Command, trays: Path, log: Path, mark: bytes) -> None:
    before = mark + trays.read_bytes().replace(b"\n", b"\r\n")
    trays.write_bytes(before)
    code, _, err = shopsim("times", trays, log, *SHORT)
    assert code == 0, err
    after = trays.read_bytes()
    assert after.startswith(before.rstrip())
    assert after.count(b"\r\n") == after.count(b"\n") > before.count(b"\n")
    assert after.count(b"\xef\xbb\xbf") == len(mark) // 3


def test_the_reference_replaces_a_reference_and_nothing_else(shopsim: Command, trays: Path, tmp_path: Path) -> None:
    page = tmp_path / "reference.md"
    assert [shopsim("schema", "--text", "-o", page)[0] for _ in range(2)] == [0, 0]
    code, out, err = shopsim("schema", "--text")
    assert (code, out, err) == (0, page.read_text(encoding="utf-8"), "")
    code, out, err = shopsim("schema", "--text", "-o", trays)
    assert (code, out) == (2, "")
    assert "is no reference that shopsim wrote, so it is not replaced" in err
    assert shopsim("schema", "-o", page)[0] == 2
