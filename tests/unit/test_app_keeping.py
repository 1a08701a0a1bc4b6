"""It holds that drafts are kept privately, within bounds, for those who have the token and nobody else."""

from __future__ import annotations

import datetime as dt
import json
import os
import stat
import time
from pathlib import Path

import pytest

from shopsim.app import keeping
from shopsim.app.drafts import make_draft
from shopsim.app.keeping import Keeper, default_folder, new_token, pack_kept, unpack_kept
from shopsim.errors import InputError
from shopsim.limits import MAX_VALUES_LETTERS

TEXT = 'title = "Trays" # mine\n'


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "kept" / "drafts"


def test_a_draft_is_there_again_after_a_restart_with_its_values_and_files(folder: Path) -> None:
    token = new_token()
    draft = make_draft(TEXT, "trays.toml", {"orders.csv": b"order\n\xc3\xa9\n"})
    values = {"batch": 5, "day": dt.date(2027, 1, 8), "rows": [{"a": 1.5, "b": ["x", None]}], "yes": True}
    Keeper(folder).keep_draft(token, draft)
    Keeper(folder).keep_values(token, values)
    Keeper(folder).begin_draft(new_token(), make_draft("another = 1\n"))
    kept = Keeper(folder).fetch(token)
    assert kept is not None
    assert kept.draft is not None
    assert (kept.draft.name, kept.draft.text, dict(kept.draft.beside)) == ("trays.toml", TEXT, dict(draft.beside))
    assert kept.values == values


def test_the_draft_before_is_held_and_its_values_are_let_go(folder: Path) -> None:
    token, keeper = new_token(), Keeper(folder)
    keeper.begin_draft(token, make_draft(TEXT, "first.toml"))
    keeper.keep_values(token, {"batch": 5})
    keeper.begin_draft(token, make_draft("title = 'b'\n", "second.toml"))
    kept = Keeper(folder).fetch(token)
    assert kept is not None
    assert kept.draft is not None
    assert kept.former is not None
    assert (kept.draft.name, kept.former.name, kept.values) == ("second.toml", "first.toml", {})


def test_nobody_else_can_read_folder_or_files(folder: Path) -> None:
    before = os.umask(0)
    try:
        Keeper(folder).keep_draft(new_token(), make_draft(TEXT))
    finally:
        os.umask(before)
    (path,) = folder.iterdir()
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_the_folder_does_not_tell_the_token(folder: Path) -> None:
    token = new_token()
    Keeper(folder).keep_draft(token, make_draft(TEXT))
    (path,) = folder.iterdir()
    assert token not in path.name
    assert token not in path.read_text()


def test_tokens_are_long_and_never_the_same() -> None:
    tokens = {new_token() for _ in range(1000)}
    assert len(tokens) == 1000
    assert {len(token) for token in tokens} == {43}


@pytest.mark.parametrize("asked", ["", "x", "../../etc/passwd", "*", "a" * 43, "A" * 5000, "ä" * 43, "\x00" * 43])
def test_what_is_no_token_of_a_draft_finds_nothing_and_writes_nothing(folder: Path, asked: str) -> None:
    keeper = Keeper(folder)
    keeper.keep_draft(new_token(), make_draft(TEXT))
    assert keeper.fetch(asked) is None
    assert len(list(folder.iterdir())) == 1


def test_forgetting_takes_the_file_away_and_leaves_others(folder: Path) -> None:
    keeper = Keeper(folder)
    mine, yours = new_token(), new_token()
    keeper.keep_draft(mine, make_draft(TEXT))
    keeper.keep_draft(yours, make_draft(TEXT))
    keeper.forget(mine)
    keeper.forget(mine)
    assert keeper.fetch(mine) is None
    assert keeper.fetch(yours) is not None
    assert len(list(folder.iterdir())) == 1


def test_drafts_that_nobody_has_changed_for_long_are_removed(folder: Path) -> None:
    keeper = Keeper(folder)
    old, young = new_token(), new_token()
    for token, days in ((old, 91), (young, 89)):
        keeper.keep_draft(token, make_draft(TEXT))
        (path,) = [path for path in folder.iterdir() if path.stat().st_mtime > time.time() - 3600]
        since = time.time() - days * 86400
        os.utime(path, (since, since))
    again = Keeper(folder)
    assert again.fetch(old) is None
    assert again.fetch(young) is not None


def test_the_oldest_go_when_there_are_too_many_or_too_much(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(keeping, "MAX_DRAFTS", 3)
    keeper = Keeper(folder)
    tokens = [new_token() for _ in range(5)]
    for number, token in enumerate(tokens):
        keeper.keep_draft(token, make_draft(TEXT))
        newest = max(folder.iterdir(), key=lambda path: path.stat().st_mtime)
        since = time.time() - 1000 + number
        os.utime(newest, (since, since))
    found = [Keeper(folder).fetch(token) is not None for token in tokens]
    assert found == [False, False, True, True, True]
    monkeypatch.setattr(keeping, "MAX_DRAFTS_BYTES", 10)
    assert all(Keeper(folder).fetch(token) is None for token in tokens)


def test_memory_holds_a_few_and_the_disk_the_rest(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(keeping, "MAX_DRAFTS_IN_MEMORY", 2)
    keeper = Keeper(folder)
    tokens = [new_token() for _ in range(4)]
    for token in tokens:
        keeper.keep_draft(token, make_draft(TEXT, f"{token[:5]}.toml"))
    names = [
        kept.draft.name for token in tokens if (kept := keeper.fetch(token)) is not None and kept.draft is not None
    ]
    assert names == [f"{token[:5]}.toml" for token in tokens]
    assert len(keeper._held) == 2


def test_more_values_than_there_is_room_for_are_refused_and_what_was_there_stays(folder: Path) -> None:
    token, keeper = new_token(), Keeper(folder)
    keeper.keep_values(token, {"batch": 5})
    with pytest.raises(InputError, match="not applied yet"):
        keeper.keep_values(token, {"much": "x" * (MAX_VALUES_LETTERS + 1)})
    kept = keeper.fetch(token)
    assert kept is not None
    assert kept.values == {"batch": 5}


@pytest.mark.parametrize(
    "data",
    [b"", b"no json", b"[]", b"{}", b'{"shopsim_draft": 2}', b'{"shopsim_draft": 1, "draft": 5}', b'{"shopsim_draft": 1, "draft": {"name": "a"}}',
     b'{"shopsim_draft": 1, "values": []}', b'{"shopsim_draft": 1, "values": {"a": {"$date": "someday"}}}', b"[" * 100_000,
     b'{"shopsim_draft": 1, "draft": {"name": "a", "text": "b", "beside": {"c": "***"}}}', b"\xff\xfe"],
)  # fmt: skip
def test_a_damaged_file_is_as_if_there_were_none(folder: Path, data: bytes) -> None:
    token, keeper = new_token(), Keeper(folder)
    keeper.keep_draft(token, make_draft(TEXT))
    (path,) = folder.iterdir()
    path.write_bytes(data)
    assert Keeper(folder).fetch(token) is None


def test_what_is_packed_is_the_same_when_unpacked() -> None:
    kept = keeping.Kept(
        make_draft(TEXT, "ü.toml"), make_draft("a = 1\n"), {"x": [dt.date(2027, 1, 1), {"y": "\u2028"}]}
    )
    assert unpack_kept(pack_kept(kept)) == kept


def test_a_folder_that_cannot_be_used_is_said_and_drafts_stay_in_memory(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    keeper = Keeper(tmp_path / "file" / "drafts")
    assert "cannot be used" in keeper.trouble
    token = new_token()
    keeper.keep_draft(token, make_draft(TEXT))
    kept = keeper.fetch(token)
    assert kept is not None
    assert keeper.trouble


def test_the_folder_can_be_named(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv(keeping.FOLDER_VARIABLE, str(tmp_path / "here"))
    assert default_folder() == tmp_path / "here"
    monkeypatch.delenv(keeping.FOLDER_VARIABLE)
    assert default_folder().parts[-2:] == ("shopsim", "drafts")


def test_a_draft_is_as_old_as_its_log_and_they_go_together(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    logged, forgotten = new_token(), new_token()
    keeper = Keeper(folder)
    for token in (logged, forgotten):
        keeper.begin_draft(token, make_draft(TEXT))
        keeper.find_run_log(token).write_text("when,what\n")
        keeper.begin_run_log(token, b"when,what,operation\n")
    long_ago = time.time() - 91 * 86_400
    for path in folder.iterdir():
        if path != keeper.find_run_log(logged):
            os.utime(path, (long_ago, long_ago))
    later = Keeper(folder)
    kept = later.fetch(logged)
    assert kept is not None
    assert later.find_run_log(logged).read_text() == "when,what,operation\n"
    assert later.fetch(forgotten) is None
    assert len(list(folder.iterdir())) == 3  # a draft, its log, and the log before it


def test_no_name_of_a_log_leads_out_of_the_folder(folder: Path) -> None:
    token, keeper = new_token(), Keeper(folder)
    keeper.begin_draft(token, make_draft(TEXT))
    (path,) = folder.glob("*.json")
    data = path.read_text()
    kept = keeper.fetch(token)
    assert kept is not None
    for mark in ("../../else", "A" * 8, 3):
        with pytest.raises(ValueError):
            unpack_kept(data.replace(f'"log": "{kept.log}"', f'"log": {json.dumps(mark)}').encode())
    assert unpack_kept(data.encode()).log == kept.log
