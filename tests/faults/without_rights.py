"""Writes everything into a folder that it has no right to write to; prints what is told, one line for each.

    python -m faults.without_rights FOLDER        (in the folder tests)

Permission bits do not bind the system's manager, so whoever that is gives up being it first. FOLDER holds one folder
for each kind of file, with version 0 in it.
"""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path

from shopsim.errors import InputError

from .writers import WRITERS

#: The number of the user "nobody".
NOBODY = 65534


def give_up_rights() -> None:
    """Be nobody, if one was the system's manager."""
    if os.getuid() == 0:
        os.setgroups([])
        os.setgid(NOBODY)
        os.setuid(NOBODY)


def main(folder: Path) -> None:
    """Try each kind of file; what is in the way is told by an InputError, and nothing else may come."""
    with tempfile.TemporaryDirectory() as elsewhere:  # loads what they need: our own files may be hidden from nobody
        for what, writer in WRITERS.items():
            writer.write(Path(elsewhere), 0)
            writer.read(folder / what)
    give_up_rights()
    for what, writer in WRITERS.items():
        try:
            writer.write(folder / what, 1)
        except InputError as error:
            print(f"{what}: {error}")
        else:
            print(f"{what}: written")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
