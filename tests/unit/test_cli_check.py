"""It holds that a file is judged whole, and that every fault is told as it is, with its place and its mend."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable
from pathlib import Path

import jsonschema
import pytest

from shopsim.scenario import read_scenario

Command = Callable[..., tuple[int, str, str]]


def change(path: Path, old: str, new: str) -> Path:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    return path


def test_a_good_file_is_said_to_be_good_with_what_is_in_it(shopsim: Command, trays: Path) -> None:
    # Each batch of two pays the cut's set-up once: 2 x 10 + 4 x (30 + 15 + 20 + 8) = 312 min, 1.3 h a piece.
    code, out, err = shopsim("check", trays)
    assert code == 0
    assert err == ""
    assert "nothing wrong" in out
    said = " ".join(out.split())
    assert (
        "4 pieces (3 ordered, 1 spare), 2 batches, 4 operations, 16 tasks. Hours a piece: 1.3 as you wrote them (likely values and set-ups)"
        in said
    )


def test_cautions_that_steps_suggest_are_a_remark_and_the_file_is_as_right_as_before(
    shopsim: Command, trays: Path
) -> None:
    code, out, err = shopsim("check", trays)
    assert (code, err) == (0, "")
    rows = [line.split() for line in out.splitlines() if "oil " in line]
    assert rows == [["oil", "oily", "rags", "solvent", "fumes"]]
    assert "This is a remark, no fault: write them beside the step" in " ".join(out.split())
    change(trays, 'caution = "oily rags"', 'caution = ["oily rags", "none needed"]')
    assert "Cautions to think of" not in shopsim("check", trays)[1]


def test_hands_on_hours_count_every_pair_of_hands(shopsim: Command, trays: Path) -> None:
    # 4 x 15 min of gluing by a second person as well: 372 min over 4 pieces.
    change(trays, 'can = ["sand", "oil"]', 'can = ["glue", "sand", "oil"]')
    change(trays, 'open = { wed = "08:00-12:00" }', "")
    change(trays, 'work = "10 / 15 / 30 min"', 'work = "10 / 15 / 30 min"\nhands = 2')
    assert "Hours a piece: 1.6 as you wrote them" in " ".join(shopsim("check", trays)[1].split())


def test_every_fault_is_told_in_file_order_and_counted(shopsim: Command, trays: Path) -> None:
    change(trays, "count = 2", "count = 0")
    change(trays, 'station = "bench"', 'station = "bunch"')
    change(trays, "batch = 2", "bacth = 2")
    code, out, err = shopsim("check", trays)
    faults = read_scenario(trays).faults
    assert code == 2
    assert out == ""
    assert len(faults) == 3
    assert err.splitlines() == [*(str(fault) for fault in faults), "3 faults"]
    line = trays.read_text(encoding="utf-8").splitlines().index('station = "bunch"') + 1
    assert f'{trays}:{line} · design.operations "glue" · station' in err


@pytest.mark.parametrize("command", ["check", "once", "decide", "batches", "clamps", "delivery"])
def test_every_command_refuses_a_file_with_faults(shopsim: Command, trays: Path, command: str) -> None:
    change(trays, "orders = 3", "orders = 0")
    code, out, err = shopsim(command, trays)
    assert (code, out) == (2, "")
    assert err.splitlines()[-1] == "1 fault"
    assert "run.orders" in err


def test_a_warning_is_told_and_the_file_is_good_all_the_same(shopsim: Command, trays: Path) -> None:
    change(trays, 'in_clamps = "16 h"', 'in_clamps = "16 h"\nopen_time = "5 min"')
    code, out, err = shopsim("check", trays)
    (warning,) = read_scenario(trays).warnings
    assert code == 0
    assert err == f"{warning}\n"
    assert "nothing wrong" in out
    assert "1 warning above" in out


def test_a_value_set_by_hand_is_checked_like_one_of_the_file(shopsim: Command, trays: Path) -> None:
    code, _, err = shopsim("check", trays, "--set", "run.batch=none", "--set", "run.ordres=5", "--set", "oops")
    assert code == 2
    assert "--set run.batch=none · run.batch" in err
    assert 'there is no "ordres" in run · write "orders"' in err
    assert "--set oops · no value is given" in err
    assert err.splitlines()[-1] == "3 faults"


def test_a_value_set_by_hand_is_used(shopsim: Command, trays: Path) -> None:
    code, out, _ = shopsim("check", trays, "--set", "run.orders=9", "--set", 'shop.clamps."band clamp".count=4')
    assert code == 0
    assert "10 pieces (9 ordered, 1 spare)" in out


@pytest.mark.parametrize(
    ("name", "content", "rule"),
    [
        ("none.toml", None, "there is no such file"),
        ("binary.toml", b'title = "\x00\xff\xfe"', "holds a NUL byte"),
        ("latin.toml", 'title = "é"'.encode("latin-1"), "is not written in UTF-8"),
        ("empty.toml", b"", "is an empty file"),
        ("broken.toml", b'title = "no end\n', "a text is not closed"),
    ],
)
def test_what_is_no_scenario_is_refused_with_its_reason(
    shopsim: Command, tmp_path: Path, name: str, content: bytes | None, rule: str
) -> None:
    path = tmp_path / name
    if content is not None:
        path.write_bytes(content)
    code, out, err = shopsim("check", path)
    assert (code, out) == (2, "")
    assert rule in err
    assert str(path) in err


def test_a_folder_is_no_scenario(shopsim: Command, tmp_path: Path) -> None:
    assert shopsim("check", tmp_path)[0] == 2


def test_a_deep_check_runs_it_and_checks_every_run(shopsim: Command, trays: Path) -> None:
    code, out, err = shopsim("check", trays, "--deep", "--replications", 3)
    assert (code, err) == (0, "")
    assert "once without luck and 3 times with luck: every run keeps every rule" in " ".join(out.split())


def test_a_deep_check_tells_of_broken_laws_and_does_not_blame_the_file(
    shopsim: Command, trays: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("shopsim.study.once.check_record", lambda _history: ["glue has no done"])
    code, out, err = shopsim("check", trays, "--deep", "--replications", 2)
    assert (code, out) == (1, "")
    assert err.splitlines() == [
        "likely run: glue has no done",
        "seed 1, replication 0: glue has no done",
        "seed 1, replication 1: glue has no done",
        "3 laws broken: a mistake in the program, not in the file; please report it",
    ]


def test_the_schema_takes_a_good_file_and_refuses_a_misspelt_key(shopsim: Command, trays: Path) -> None:
    code, out, _ = shopsim("schema")
    assert code == 0
    schema = json.loads(out)
    said = json.loads(json.dumps(tomllib.loads(trays.read_text(encoding="utf-8")), default=str))
    jsonschema.validate(said, schema)
    said["run"]["bacth"] = 5
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(said, schema)


def test_the_schema_can_go_into_a_file(shopsim: Command, tmp_path: Path) -> None:
    path = tmp_path / "shop.schema.json"
    code, out, _ = shopsim("schema", "-o", path)
    assert (code, out) == (0, "")
    assert json.loads(path.read_text(encoding="utf-8"))["$schema"].startswith("https://json-schema.org/")
    code, _, err = shopsim("schema", "-o", tmp_path)
    assert code == 2
    assert "is a folder" in err
