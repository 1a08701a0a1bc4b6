"""What goes to standard error, and the refusal that commands share."""

from __future__ import annotations

import sys
from collections.abc import Iterable

from shopsim.errors import InputError
from shopsim.scenario.places import clean


def complain(lines: Iterable[str]) -> None:
    """Lines to standard error, each exactly as it is."""
    for line in lines:
        sys.stderr.write(f"{line}\n")
    sys.stderr.flush()


def say_not_ours(path: str, what: str) -> InputError:
    """The refusal to replace a file that is not ``what`` it would be replaced by."""
    return InputError(f"{clean(path)} · is no {what}, so it is not replaced · name another file, or add --replace")
