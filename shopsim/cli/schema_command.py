"""``shopsim schema``: what a scenario file may hold, for editors that complete and check while one writes."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import Any

from shopsim.cli.complaints import complain, say_not_ours
from shopsim.scenario import scenario_schema, write_text_safely
from shopsim.scenario.reference import TITLE, reference_text

#: Bytes up to which a file may be a schema of ours.
MAX_SCHEMA_BYTES = 10_000_000


def run_command(args: argparse.Namespace) -> int:
    """What a scenario file may hold, as JSON Schema or as text to read, to a file or the screen."""
    schema = scenario_schema()
    text = reference_text() if args.text else json.dumps(schema, ensure_ascii=False, indent=2) + "\n"
    if args.out:
        is_ours = _is_reference if args.text else partial(_is_schema, schema=schema)
        if not args.replace and Path(args.out).is_file() and not is_ours(Path(args.out)):
            raise say_not_ours(args.out, "reference that shopsim wrote" if args.text else "schema that shopsim wrote")
        write_text_safely(args.out, text)
        complain([f"written to {args.out}"])
    else:
        sys.stdout.write(text)
    return 0


def _is_reference(path: Path) -> bool:
    """Whether a file holds the reference, of this or another version of the program."""
    try:
        return path.read_bytes().startswith(TITLE.encode())
    except OSError:
        return False


def _is_schema(path: Path, schema: Mapping[str, Any]) -> bool:
    """Whether a file holds such a schema, of this or another version of the program."""
    try:
        held = json.loads(path.read_bytes()) if path.stat().st_size <= MAX_SCHEMA_BYTES else None
    except (OSError, ValueError, RecursionError):
        return False
    return isinstance(held, dict) and all(held.get(key) == schema[key] for key in ("$schema", "title"))
