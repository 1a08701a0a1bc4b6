"""Times that a log tells of which were taken in before, under whatever name and in whatever order: told by run, operation and piece.

Rows that name their piece are known by it. Those that do not are known by their times: equal minutes come up by
chance, the more so the shorter the work and the coarser the clock, so that two logs are one only where so many
equal times have hardly any chance (two makers' runs that happen to agree are not).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from scipy import special

from shopsim.errors import InputError
from shopsim.scenario.logged_rows import LoggedRow
from shopsim.scenario.logs import TimeRow
from shopsim.scenario.model import LoggedTimes

#: Chance of so many equal times below which two logs are taken for one (own choice).
SAME_LOG = 1e-3
#: A time of m minutes on a clock of steps of d meets another of the same work with about the chance d / (3.5 s m),
#: s the spread of handwork.
_SPREAD = 0.25

#: What a row of a log is: piece (small letters, perhaps empty), units, minutes.
Row = tuple[str, int, float]


@dataclass(frozen=True)
class Retold:
    """What a log tells again. ``kept``: by place of a cell, the rows of it that the log does not tell; those of other
    cells are untouched. ``alike``, ``corrected``: how many rows were told before, the same or otherwise; ``logs``: in which."""

    kept: Mapping[int, tuple[LoggedRow, ...]]
    alike: int
    corrected: int
    logs: tuple[str, ...]


def row_of(row: LoggedRow | TimeRow) -> Row:
    """What a row is known by."""
    return row.piece.casefold(), row.units, float(f"{row.minutes:.9g}")


def chance_of_equal(old: Sequence[Row], new: Sequence[Row]) -> tuple[int, float]:
    """(how many rows of one operation are equal, the chance that one row meets an equal one where the logs are different)."""
    equal = sum((Counter(old) & Counter(new)).values())
    if not new:
        return equal, 0.0
    minutes = sorted(row[2] / row[1] for row in (*old, *new))
    step = next(step for step in (1.0, 0.5, 0.1, 0.01, 0.001, 0.0) if step == 0.0 or _are_whole(old, new, step))
    middle = minutes[len(minutes) // 2]
    one = min(1.0, step / (3.5 * _SPREAD * middle))
    named = all(row[0] for row in new)
    return equal, 1.0 - (1.0 - one) ** (1 if named else max(len(old), 1))


def _are_whole(old: Sequence[Row], new: Sequence[Row], step: float) -> bool:
    return all(abs(row[2] / step - round(row[2] / step)) < 1e-6 for row in (*old, *new))


def are_one_log(pairs: Sequence[tuple[Sequence[Row], Sequence[Row]]]) -> bool:
    """Whether (old, new) rows of several operations agree far more often than different logs would."""
    equal, expected, most = 0, 0.0, 0
    for old, new in pairs:
        n = min(len(old), len(new))
        found, chance = chance_of_equal(old, new)
        equal, expected, most = equal + found, expected + n * chance, most + n
    if not most or equal * 2 < most:
        return False
    return float(special.bdtrc(equal - 1, most, min(expected / most, 1.0))) < SAME_LOG


def find_same_runs(
    cells: Sequence[LoggedTimes], rows: Mapping[tuple[str, str | None, str], Sequence[TimeRow]]
) -> list[tuple[str, str, str]]:
    """(run, run known, its log) for each run of a log whose times are those of a run known by another name."""
    found = []
    for run in dict.fromkeys(key[0] for key in rows):
        mine = {key[1:]: [row_of(row) for row in some] for key, some in rows.items() if key[0] == run}
        for other in dict.fromkeys(cell.run for cell in cells):
            theirs = [cell for cell in cells if cell.run == other]
            pairs = [
                ([row_of(row) for row in cell.rows], mine.get((cell.design, cell.operation), [])) for cell in theirs
            ]
            if other != run and are_one_log(pairs):
                found.append((run, other, theirs[0].log))
    return found


def find_retold(
    cells: Sequence[LoggedTimes],
    rows: Mapping[tuple[str, str | None, str], Sequence[TimeRow]],
    in_piece: Mapping[tuple[str | None, str], int | None],
    log: str,
) -> Retold:
    """What of the cells' rows a log tells again; raises InputError where that cannot be told.

    ``rows``: those of the log, by run, design and operation as the cells have them. ``in_piece``: units of an operation
    that one piece has. Cells without rows, which were put by hand, are left out of account.
    """
    kept: dict[int, tuple[LoggedRow, ...]] = {}
    alike = corrected = 0
    logs: dict[str, None] = {}
    unnamed = _are_one_by_run(cells, rows)
    for place, cell in enumerate(cells):
        new = rows.get((cell.run, cell.design, cell.operation))
        if new is None:
            continue
        if not cell.rows:
            raise InputError(
                f'{log} · "{cell.operation}" of run "{cell.run}" was taken in before, from "{cell.log}", without its '
                "single times · nothing is counted twice: take that row out of [learned] first"
            )
        left = _left_of(cell, new, in_piece.get((cell.design, cell.operation)), unnamed.get(cell.run, False), log)
        if len(left) < len(cell.rows):
            kept[place] = left
            gone = Counter(map(row_of, cell.rows)) - Counter(map(row_of, left))
            same = sum((gone & Counter(map(row_of, new))).values())
            alike, corrected = alike + same, corrected + sum(gone.values()) - same
            logs[cell.log] = None
    return Retold(kept, alike, corrected, tuple(logs))


def _are_one_by_run(
    cells: Sequence[LoggedTimes], rows: Mapping[tuple[str, str | None, str], Sequence[TimeRow]]
) -> dict[str, bool]:
    """For each run, whether rows without a piece are those that were taken in before."""
    pairs: dict[str, list[tuple[list[Row], list[Row]]]] = {}
    for cell in cells:
        new = rows.get((cell.run, cell.design, cell.operation), ())
        old_rows, new_rows = ([row_of(row) for row in some if not row.piece] for some in (cell.rows, new))
        pairs.setdefault(cell.run, []).append((old_rows, new_rows))
    return {run: are_one_log(found) for run, found in pairs.items()}


def _left_of(
    cell: LoggedTimes, new: Sequence[TimeRow], in_piece: int | None, same: bool, log: str
) -> tuple[LoggedRow, ...]:
    """The rows of a cell that a log does not tell again, by piece; those without one by their times."""
    told: dict[str, list[TimeRow]] = {}
    for row in new:
        told.setdefault(row.piece.casefold(), []).append(row)
    old: dict[str, list[LoggedRow]] = {}
    for before in cell.rows:
        old.setdefault(before.piece.casefold(), []).append(before)
    gone: Counter[Row] = Counter()
    for piece, rows in old.items():
        again = told.get(piece)
        if again is None:
            continue
        was, now = Counter(map(row_of, rows)), Counter(map(row_of, again))
        if piece:
            room = in_piece is not None and sum(row.units for row in rows) + sum(row.units for row in again) <= in_piece
            if not room or was & now:
                gone += was
        elif same:
            gone += was & now
            unlike = list((was - now).elements())[: sum((now - was).values())]
            gone.update(unlike)
        elif not now - was:
            raise InputError(
                f'{log} · "{cell.operation}" of run "{cell.run}" took as long in "{cell.log}": whether these are the same '
                "times cannot be told · name the piece of each row"
            )
    left = []
    for before in cell.rows:
        if gone[row_of(before)] > 0:
            gone[row_of(before)] -= 1
        else:
            left.append(before)
    return tuple(left)
