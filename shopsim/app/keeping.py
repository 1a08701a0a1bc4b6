"""Where drafts are kept: in memory, and in a folder of the user's own, so that a reload or a restart loses nothing.

Each is known by a token that cannot be guessed and stands in the address of the page; its file is
named after the SHA-256 of the token, so that nobody who sees the folder learns the address.
"""

from __future__ import annotations

import base64
import binascii
import contextlib
import datetime as dt
import hashlib
import json
import os
import re
import secrets
import sys
import threading
import time
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from shopsim.app.drafts import Draft, make_draft
from shopsim.errors import InputError
from shopsim.limits import MAX_DRAFT_DAYS, MAX_DRAFTS, MAX_DRAFTS_BYTES, MAX_DRAFTS_IN_MEMORY, MAX_VALUES_LETTERS
from shopsim.scenario.writing import write_bytes_safely
from shopsim.units import MINUTES_PER_DAY

#: The environment variable that says where drafts are kept.
FOLDER_VARIABLE = "SHOPSIM_APP_FOLDER"
_TOKEN = re.compile(r"[A-Za-z0-9_-]{43}")
_MAX_KEPT_BYTES = 20_000_000
#: How the name of the file of a run's log ends, and the letters of a token's hash, with which the names of all its files begin.
_LOG, _HASH = "-run-log.csv", 64
_LOG_MARK = re.compile(r"[0-9a-f]{0,16}")


@dataclass
class Kept:
    """What is kept for one token: the draft, None before there is one, the one it took the place of, and the
    values of its controls. ``log``, ``former_log``: what tells the log of the run of each from others of this token."""

    draft: Draft | None = None
    former: Draft | None = None
    values: dict[str, Any] = field(default_factory=dict)
    log: str = ""
    former_log: str = ""


def default_folder() -> Path:
    """The folder for drafts: that of ``SHOPSIM_APP_FOLDER``, else the usual one of this system for a user's own data."""
    named = os.environ.get(FOLDER_VARIABLE, "").strip()
    if named:
        return Path(named).expanduser()
    if sys.platform == "win32":
        home = Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    elif sys.platform == "darwin":
        home = Path.home() / "Library" / "Application Support"
    else:
        home = Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share")
    return home / "shopsim" / "drafts"


def new_token() -> str:
    """A token of 256 random bits."""
    return secrets.token_urlsafe(32)


class Keeper:
    """Keeps drafts by token. Safe to use from several threads; what cannot be written is kept in memory alone.

    ``trouble``: why nothing is written to the disk, "" while all is well.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.trouble = ""
        self._lock = threading.RLock()
        self._held: OrderedDict[str, Kept] = OrderedDict()
        try:
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            if os.name == "posix":
                folder.chmod(0o700)
        except OSError as error:
            self.trouble = f"{folder} cannot be used: {(error.strerror or str(error)).lower()}"
        self.clear_old()

    def fetch(self, token: str) -> Kept | None:
        """What is kept for a token, None where nothing is. The same object for everybody who has the token."""
        if not _TOKEN.fullmatch(token):
            return None
        with self._lock:
            kept = self._held.get(token)
            if kept is None:
                kept = self._read(token)
                if kept is not None:
                    self._hold(token, kept)
            else:
                self._held.move_to_end(token)
            return kept

    def keep_draft(self, token: str, draft: Draft) -> None:
        """Put a changed draft in place of the one that is kept."""
        with self._lock:
            kept = self.fetch(token) or Kept()
            kept.draft = draft
            self._hold(token, kept)
            self._write(token, kept)

    def begin_draft(self, token: str, draft: Draft) -> None:
        """Put another draft in place of the one that is kept, which is held so that it can be taken back; its run has no log yet."""
        with self._lock:
            kept = self.fetch(token) or Kept()
            kept.draft, kept.former, kept.values = draft, kept.draft, {}
            kept.log, kept.former_log = secrets.token_hex(4), kept.log
            self._hold(token, kept)
            self._write(token, kept)

    def take_back_former(self, token: str) -> None:
        """Put the draft that was replaced last back in its place, with the log of its run; the present one becomes the former."""
        with self._lock:
            kept = self.fetch(token)
            if kept is None or kept.former is None:
                return
            kept.draft, kept.former, kept.values = kept.former, kept.draft, {}
            kept.log, kept.former_log = kept.former_log, kept.log
            self._hold(token, kept)
            self._write(token, kept)

    def find_run_log(self, token: str) -> Path:
        """The file of the log of a draft's run, which need not be there yet."""
        kept = self.fetch(token)
        return self._log_path(token, kept.log if kept is not None else "")

    def begin_run_log(self, token: str, data: bytes) -> str:
        """Put a log of a run in place of the one that is kept, whose file stays; what tells that one from others comes back.

        Raises InputError where it cannot be written; then nothing has changed.
        """
        with self._lock:
            kept = self.fetch(token) or Kept()
            before, new = kept.log, secrets.token_hex(4)
            write_bytes_safely(self._log_path(token, new), data, private=True)
            self.choose_run_log(token, new)
            return before

    def choose_run_log(self, token: str, log: str) -> None:
        """Go back to another log of this token, by what tells it from others."""
        with self._lock:
            kept = self.fetch(token) or Kept()
            kept.log = _read_log_mark(log)
            self._hold(token, kept)
            self._write(token, kept)

    def keep_values(self, token: str, values: Mapping[str, Any]) -> None:
        """Put values of controls beside the draft; None takes a value away. Only a change is written."""
        with self._lock:
            kept = self.fetch(token) or Kept()
            new = {**kept.values, **values}
            new = {key: value for key, value in new.items() if value is not None}
            if new == kept.values:
                return
            if len(json.dumps(_pack(new))) > MAX_VALUES_LETTERS:
                raise InputError("too much is held in tables that are not applied yet · apply or undo some of it")
            kept.values = new
            self._hold(token, kept)
            self._write(token, kept)

    def forget(self, token: str) -> None:
        """Take a draft and its values away for good."""
        with self._lock:
            self._held.pop(token, None)
            with contextlib.suppress(OSError):
                self._path(token).unlink(missing_ok=True)
                for log in self.folder.glob(f"{self._path(token).stem}*{_LOG}"):
                    log.unlink(missing_ok=True)

    def clear_old(self) -> None:
        """Remove the files of drafts that are too old, and of the oldest where there are too many or too much.

        A draft is as old as the last change of it or of a log of its run; they go together.
        """
        with self._lock, contextlib.suppress(OSError):
            files: dict[str, list[tuple[float, int, Path]]] = {}
            for path in (*self.folder.glob("*.json"), *self.folder.glob(f"*{_LOG}")):
                with contextlib.suppress(OSError):
                    state = path.stat()
                    files.setdefault(path.name[:_HASH], []).append((state.st_mtime, state.st_size, path))
            oldest = time.time() - MAX_DRAFT_DAYS * MINUTES_PER_DAY * 60
            total = 0
            for number, held in enumerate(sorted(files.values(), key=max, reverse=True)):
                total += sum(size for _, size, _ in held)
                if max(held)[0] < oldest or number >= MAX_DRAFTS or total > MAX_DRAFTS_BYTES:
                    for _, _, path in held:
                        with contextlib.suppress(OSError):
                            path.unlink()

    def _hold(self, token: str, kept: Kept) -> None:
        self._held[token] = kept
        self._held.move_to_end(token)
        while len(self._held) > MAX_DRAFTS_IN_MEMORY:
            self._held.popitem(last=False)

    def _path(self, token: str) -> Path:
        return self.folder / f"{hashlib.sha256(token.encode()).hexdigest()}.json"

    def _log_path(self, token: str, log: str) -> Path:
        return self.folder / f"{self._path(token).stem}{'-' if log else ''}{log}{_LOG}"

    def _write(self, token: str, kept: Kept) -> None:
        path = self._path(token)
        try:
            is_new = not path.exists()
            write_bytes_safely(path, pack_kept(kept), private=True)
        except (InputError, OSError) as error:
            self.trouble = str(error)
            return
        self.trouble = ""
        if is_new:
            self.clear_old()

    def _read(self, token: str) -> Kept | None:
        path = self._path(token)
        try:
            if path.stat().st_size > _MAX_KEPT_BYTES:
                return None
            return unpack_kept(path.read_bytes())
        except (OSError, ValueError):
            return None


def pack_kept(kept: Kept) -> bytes:
    """What is kept as the bytes of a JSON file."""
    data: dict[str, Any] = {"shopsim_draft": 1, "values": _pack(kept.values)}
    data |= {"log": kept.log, "former_log": kept.former_log}
    for key, draft in (("draft", kept.draft), ("former", kept.former)):
        if draft is not None:
            beside = {name: base64.b64encode(held).decode() for name, held in draft.beside.items()}
            data[key] = {"name": draft.name, "text": draft.text, "beside": beside}
    return json.dumps(data, ensure_ascii=True).encode()


def unpack_kept(data: bytes) -> Kept:
    """What was kept, read back from its bytes; raises ValueError where they are no such file."""
    try:
        held = json.loads(data)
        if not isinstance(held, dict) or held.get("shopsim_draft") != 1:
            raise ValueError("not a draft")
        values = _unpack(held.get("values", {}))
        if not isinstance(values, dict):
            raise ValueError("not a draft")
        logs = (_read_log_mark(held.get(key, "")) for key in ("log", "former_log"))
        return Kept(_unpack_draft(held.get("draft")), _unpack_draft(held.get("former")), values, *logs)
    except (KeyError, AttributeError, TypeError, RecursionError, binascii.Error) as error:
        raise ValueError("not a draft") from error


def _read_log_mark(mark: Any) -> str:
    """What tells one log of a token from others, which is part of the name of a file; raises ValueError for anything else."""
    if not isinstance(mark, str) or not _LOG_MARK.fullmatch(mark):
        raise ValueError("not a draft")
    return mark


def _unpack_draft(held: Any) -> Draft | None:
    if held is None:
        return None
    beside = {str(name): base64.b64decode(text, validate=True) for name, text in held["beside"].items()}
    return make_draft(str(held["text"]), str(held["name"]), beside)


def _pack(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {str(key): _pack(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_pack(item) for item in value]
    if isinstance(value, dt.date):
        return {"$date": value.isoformat()}
    if value is None or isinstance(value, bool | int | float | str):
        return value
    raise TypeError(f"a remembered value must be plain, not {type(value).__name__}")


def _unpack(value: Any) -> Any:
    if isinstance(value, dict):
        if set(value) == {"$date"}:
            return dt.date.fromisoformat(value["$date"])
        return {key: _unpack(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_unpack(item) for item in value]
    return value
