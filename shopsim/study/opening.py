"""A study from a file that ``Study.save`` wrote."""

from __future__ import annotations

import io
import json
import math
import os
import zipfile
import zlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from shopsim.errors import InputError, ScenarioError
from shopsim.limits import MAX_ALTERNATIVES, MAX_REPLICATIONS, MAX_STUDY_BYTES, MAX_UNPACKED_STUDY_BYTES
from shopsim.scenario.files import parse_scenario
from shopsim.scenario.model import Scenario
from shopsim.scenario.ways import put_ways
from shopsim.study.fingerprint import hash_scenario
from shopsim.study.measures import MEASURES
from shopsim.study.results import Outcome, Study
from shopsim.study.saving import ARRAYS, FORM, HEAD, WHAT

#: What reading a damaged archive can raise.
_DAMAGE = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError, OSError, KeyError)


class _Damaged(Exception):
    """What is wrong with the file."""


def open_study(path: str | Path) -> Study:
    """The study in a file that ``Study.save`` wrote: scenarios, seed, version and all results as they were.

    Raises InputError for a file that cannot be read, is no such file, is damaged, was written by a later form
    of the program, or measures other things than this version does. Nothing in the file is ever run as
    a program. Opening costs some milliseconds for each alternative.
    """
    try:
        return _open(Path(path))
    except _Damaged as error:
        raise InputError(f"{path} · {error}") from None
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise InputError(f"{path} · cannot be read: {reason} · check the name of the file") from None


def _open(path: Path) -> Study:
    if path.is_dir():
        raise _Damaged("is a folder · name the file that was saved")
    if path.exists() and not path.is_file():
        raise _Damaged("is no plain file · name the file that was saved")
    if os.stat(path).st_size > MAX_STUDY_BYTES:
        raise _Damaged(f"is larger than {MAX_STUDY_BYTES // 1_000_000} MB, so it is not opened · run the study anew")
    content = path.read_bytes()
    parts = _unpack(content)
    head = _read_head(parts)
    outcomes: dict[str, Outcome] = {}
    for entry in _get(head, "alternatives", list):
        name = _get(entry, "name", str)
        if name in outcomes:
            raise _Damaged(f'is damaged: holds "{name}" twice · run the study anew')
        outcomes[name] = _read_outcome(parts, entry, name, str(path))
    if not outcomes or len(outcomes) > MAX_ALTERNATIVES:
        raise _Damaged(f"is damaged: holds {len(outcomes)} alternatives · run the study anew")
    first = _count(head, "first_replication", 0, 2**53)
    for name, outcome in outcomes.items():
        numbers = outcome.replications
        if numbers.size and (int(numbers[0]) < first or (np.diff(numbers) <= 0).any()):
            raise _Damaged(f'is damaged: the replications of "{name}" are not in order · run the study anew')
    return Study(
        outcomes,
        seed=_count(head, "seed", 0, 2**63 - 1),
        wanted=_count(head, "wanted", 0, MAX_REPLICATIONS),
        version=_get(head, "version", str),
        first=first,
        own_rule=_get(head, "own_rule", bool),
        sobol_block=_read_even_block(head),
    )


def _unpack(content: bytes) -> dict[str, bytes]:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            infos = archive.infolist()
            if sum(info.file_size for info in infos) > MAX_UNPACKED_STUDY_BYTES:
                raise _Damaged("unpacks to more than a study can be · run the study anew")
            if len({info.filename for info in infos}) != len(infos):
                raise _Damaged("is damaged: holds a part twice · run the study anew")
            parts: dict[str, bytes] = {}
            for info in infos:
                if info.flag_bits & 1 or info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
                    raise _Damaged("is no study that this program saved · name the file that was saved")
                with archive.open(info) as part:
                    parts[info.filename] = part.read(info.file_size + 1)
            return parts
    except _DAMAGE:
        raise _Damaged("is no study file, or a damaged one · name the file that was saved, or run it anew") from None


def _read_head(parts: Mapping[str, bytes]) -> dict[str, Any]:
    try:
        head = json.loads(parts[HEAD])
    except (KeyError, ValueError, RecursionError):
        head = None
    if not isinstance(head, dict) or head.get("what") != WHAT:
        raise _Damaged("is no study that this program saved · name the file that was saved")
    if _count(head, "form", 1, 10**6) > FORM:
        raise _Damaged("was saved by a later version of the program · open it with that one, or run it anew")
    if head.get("measures") != list(MEASURES):
        raise _Damaged("measures other things than this version of the program · run the study anew")
    return head


def _get(table: Any, key: str, kind: type) -> Any:
    value = table.get(key) if isinstance(table, dict) else None
    if not isinstance(value, kind):
        raise _Damaged(f'is damaged: "{key}" is missing or of another kind · run the study anew')
    return value


def _count(table: Any, key: str, least: int, most: int) -> int:
    value = _get(table, key, int)
    if isinstance(value, bool) or not least <= value <= most:
        raise _Damaged(f'is damaged: "{key}" is {value!r} · run the study anew')
    return int(value)


def _read_even_block(head: Any) -> int:
    sobol_block = _count(head, "even_block", 0, 65536)
    if sobol_block & (sobol_block - 1) or sobol_block == 1:
        raise _Damaged(f'is damaged: "even_block" is {sobol_block} · run the study anew')
    return sobol_block


def _part(parts: Mapping[str, bytes], table: Any, key: str) -> bytes:
    name = _get(table, key, str)
    if name not in parts:
        raise _Damaged(f'is damaged: its part "{name}" is missing · run the study anew')
    return parts[name]


def _read_outcome(parts: Mapping[str, bytes], entry: Any, name: str, file: str) -> Outcome:
    books = _get(entry, "orders", dict)
    beside = {path: _part(parts, books, path) for path in books}
    scenario = _read_scenario(_part(parts, entry, "scenario"), beside, name, file)
    scenario_hash = hash_scenario(scenario)
    if scenario_hash != _get(entry, "scenario_hash", str):
        raise _Damaged(f'is damaged: the scenario of "{name}" is not the one that was run · run the study anew')
    n = _count(entry, "replications", 0, MAX_REPLICATIONS)
    none = np.zeros(0, dtype=np.int64)
    empty = Outcome(scenario, scenario_hash, none, np.zeros((0, len(MEASURES))), none, none)
    shapes = {
        "replications": (n,),
        "measured": (n, len(MEASURES)),
        "order_days": (n, len(empty.queue.orders)),
        "clamp_peaks": (n, len(put_ways(scenario).shop.clamps)),
    }
    held = _get(entry, "arrays", dict)
    arrays = {array: _read_array(_part(parts, held, array), dtype, shapes[array]) for array, dtype in ARRAYS.items()}
    if not np.isfinite(arrays["measured"]).all():
        raise _Damaged(f'is damaged: "{name}" holds what is no number · run the study anew')
    return Outcome(scenario, scenario_hash, **arrays)


def _read_scenario(text: bytes, beside: Mapping[str, bytes], name: str, file: str) -> Scenario:
    try:
        return parse_scenario(text.decode(), file, beside=beside)
    except (ScenarioError, UnicodeDecodeError) as error:
        reason = error.faults[0].rule if isinstance(error, ScenarioError) else "it is no text"
        raise _Damaged(f'the scenario of "{name}" cannot be used: {reason} · run the study anew') from None


def _read_array(content: bytes, dtype: str, shape: tuple[int, ...]) -> np.ndarray:
    stream = io.BytesIO(content)
    try:
        if np.lib.format.read_magic(stream) != (1, 0):
            raise ValueError
        found_shape, by_column, found_dtype = np.lib.format.read_array_header_1_0(stream)
        rest = content[stream.tell() :]
        if found_shape != shape or by_column or found_dtype != np.dtype(dtype):
            raise ValueError
        if len(rest) != math.prod(shape) * found_dtype.itemsize:
            raise ValueError
    except (ValueError, SyntaxError, TypeError):
        raise _Damaged("is damaged: an array is not what it should be · run the study anew") from None
    native = np.dtype(dtype).newbyteorder("=")
    return np.frombuffer(rest, dtype=dtype).reshape(shape).astype(native)
