"""A study as one file: what is written into it. Reading it again is in opening.py.

The file is a zip archive of plain parts: ``study.json`` says what the rest is, each alternative has its
scenario as TOML, the CSV files of orders that names, and its results as NumPy arrays. The same study gives
the same bytes.
"""

from __future__ import annotations

import csv
import io
import json
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from shopsim.dates import format_stretches
from shopsim.errors import InputError
from shopsim.scenario.book import OrderBook
from shopsim.scenario.model import Scenario
from shopsim.scenario.orders_file import read_orders
from shopsim.scenario.plain import dump_scenario
from shopsim.scenario.writing import write_bytes_safely
from shopsim.study.measures import MEASURES

if TYPE_CHECKING:
    from shopsim.study.results import Study

#: What ``study.json`` calls itself, and the form of the file: raised when an older program could not read it.
WHAT, FORM = "study of a shop", 1
HEAD = "study.json"
#: The arrays of an alternative and what they hold; rows are replications.
ARRAYS = {"replications": "<i8", "measured": "<f8", "order_days": "<i8", "clamp_peaks": "<i8"}
#: Parts bear no time of day, so that equal studies are equal files.
_EPOCH = (1980, 1, 1, 0, 0, 0)


def write_study(study: Study, path: str | Path) -> None:
    """Write a study to a file, whole or not at all.

    Raises InputError, an old file then kept, where it cannot be written or a scenario follows a law of
    the user's own.
    """
    parts: dict[str, bytes] = {}
    alternatives = []
    for number, (name, outcome) in enumerate(study.outcomes.items()):
        books = {}
        for book_number, book in enumerate(list_books(outcome.scenario)):
            books[book.path] = f"{number:03d}-orders-{book_number}.csv"
            parts[books[book.path]] = _write_orders(book)
        scenario = f"{number:03d}-scenario.toml"
        parts[scenario] = dump_scenario(outcome.scenario).encode()
        arrays = {}
        for array, dtype in ARRAYS.items():
            arrays[array] = f"{number:03d}-{array}.npy"
            parts[arrays[array]] = _write_array(getattr(outcome, array), dtype)
        alternatives.append(
            {
                "name": name,
                "scenario": scenario,
                "scenario_hash": outcome.scenario_hash,
                "orders": books,
                "replications": int(outcome.replications.size),
                "arrays": arrays,
            }
        )
    head: dict[str, Any] = {
        "what": WHAT,
        "form": FORM,
        "version": study.version,
        "title": study.title,
        "seed": int(study.seed),
        "wanted": int(study.wanted),
        "first_replication": int(study.first),
        "own_rule": bool(study.own_rule),
        "even_block": int(study.sobol_block),
        "measures": list(MEASURES),
        "alternatives": alternatives,
    }
    written = io.BytesIO()
    with zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as archive:
        text = json.dumps(head, ensure_ascii=False, indent=1) + "\n"
        for part, content in {HEAD: text.encode(), **parts}.items():
            info = zipfile.ZipInfo(part, _EPOCH)
            info.compress_type, info.external_attr = zipfile.ZIP_DEFLATED, 0o644 << 16
            archive.writestr(info, content)
    write_bytes_safely(path, written.getvalue())


def list_books(scenario: Scenario) -> list[OrderBook]:
    """The CSV files of orders that a scenario names, each once."""
    named = [scenario.run.orders, *(line.orders for line in scenario.run.lines)]
    return list({book.path: book for book in named if isinstance(book, OrderBook)}.values())


def _write_orders(book: OrderBook) -> bytes:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["id", "date", "quantity", "destination", "option", "promised"])
    for order in book.orders:
        clock = format_stretches(((order.minute, order.minute),)).split("-")[0]
        moment = f"{order.date.isoformat()} {clock}" if order.minute else order.date.isoformat()
        promised = order.promised.isoformat() if order.promised else ""
        writer.writerow([order.id, moment, order.quantity, order.destination, order.option, promised])
    text = out.getvalue()
    if tuple(read_orders(text, book.path)[0]) != book.orders:
        raise InputError(
            f"{book.path} · holds orders that a CSV file cannot hold as they are "
            "· give each its own id, a date and a whole number of pieces"
        )
    return text.encode()


def _write_array(values: np.ndarray, dtype: str) -> bytes:
    out = io.BytesIO()
    np.lib.format.write_array(out, np.ascontiguousarray(values, dtype=dtype), version=(1, 0), allow_pickle=False)
    return out.getvalue()
