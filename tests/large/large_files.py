"""Files that are as large as a maker may ever write, and what a process holds of the machine.

python tests/large/large_files.py large.toml [--pieces 2000] [--operations 200] [--years 10]
"""

from __future__ import annotations

import argparse
import gc
import os
import threading
from dataclasses import dataclass
from pathlib import Path

#: Pieces, operations and years of the largest file that is tried.
PIECES, OPERATIONS, YEARS = 2_000, 200, 10
#: The first year of every calendar here.
FIRST_YEAR = 2027


def write_large(pieces: int = PIECES, operations: int = OPERATIONS, years: int = YEARS) -> str:
    """The text of a scenario with so many pieces and operations, and holidays in each of so many years.

    Everything stands in it that a run has to look after: a saw that is set, benches, clamps that are taken off,
    a rack that fills, dust and wet, material, days that are lost. At 2,000 pieces and 200 operations one
    maker with 15 hours a week is at it for about ten years.
    """
    last = FIRST_YEAR + years
    closed = ", ".join(f'"{y}-07-01..{y}-07-14", "{y}-12-24..{y}-12-31"' for y in range(FIRST_YEAR, last))
    steps = "\n".join(_write_step(number) for number in range(operations))
    return f"""\
title = "A large run"
[shop]
open = {{ tue = "18:00-21:30", thu = "18:00-21:30", sat = "08:30-12:30, 13:30-17:30" }}
closed = [{closed}]
interrupted = "5 / 10 / 25 %"
lost_days = "4 %"
stations = [{{ name = "table saw" }}, {{ name = "bench", count = 2 }}]
racks = [{{ name = "drying rack", spots = 20 }}]
clamps = [{{ name = "bar clamp", count = 12, price = 30.0 }}]
[design]
name = "wall cabinet"
{steps}
[[materials]]
name = "boards"
needed_by = ["step 1"]
lead = "1 / 3 / 7 d"
[run]
orders = {pieces}
batch = 10
start = {FIRST_YEAR}-01-11
"""


def _write_step(number: int) -> str:
    """One operation; every tenth is glued, the saw is set in every tenth, every fiftieth is a coat that dries."""
    more = {
        3: 'station = "table saw"\nsetup = "2 / 3 / 5 min"\ndusty = true',
        6: 'station = "bench"\nclamps = [{ kind = "bar clamp", count = 2 }]\n'
        'in_clamps = "30 / 45 / 90 min"\nunclamp = "0.5 min"',
    }.get(number % 10, "")
    if number % 50 == 49:
        more = 'wet = "20 min"\npausable = true\ncure = "4 / 12 / 24 h"\nrest = "drying rack"'
    return f'[[design.operations]]\nname = "step {number + 1}"\nwork = "0.7 / 0.9 / 1.3 min"\n{more}'


@dataclass(frozen=True)
class Held:
    """What this process holds: bytes of memory that are there at the moment, open files, threads, children."""

    memory: int
    files: int
    threads: int
    children: int


def look_at_process() -> Held:
    """What this process holds after everything that can be freed has been. Linux only: it reads /proc."""
    gc.collect()
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    children = Path(f"/proc/self/task/{threading.get_native_id()}/children").read_text(encoding="ascii").split()
    return Held(
        memory=pages * os.sysconf("SC_PAGE_SIZE"),
        files=len(os.listdir("/proc/self/fd")),
        threads=threading.active_count(),
        children=len(children),
    )


def main() -> None:
    """Writes a large file, to try commands on."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("path", type=Path)
    parser.add_argument("--pieces", type=int, default=PIECES)
    parser.add_argument("--operations", type=int, default=OPERATIONS)
    parser.add_argument("--years", type=int, default=YEARS)
    options = parser.parse_args()
    options.path.write_text(write_large(options.pieces, options.operations, options.years), encoding="utf-8")


if __name__ == "__main__":
    main()
