"""Puts published scheduling problems into the scenario language, and so made the files in ``data/``.

Two plain forms are read, both described where they were published:

- a *job shop* (Fisher & Thompson 1963, as the literature passes it on): a line "jobs machines", then a line a job of
  pairs "machine time", machines counted from 0;
- a *project* (Kolisch & Sprecher 1997, single-mode ``.sm`` files): successors, duration and needs of every job, and
  how much there is of each resource.

How they are said here: a machine is a station, a job of a job shop a design of which one is made, its steps are
operations one after another that need nobody (``hands = 0``) in a shop that never closes; a project is one design, its
jobs are operations with ``after``, and a resource is a kind of clamp, held for as long as the work lasts. One unit of
time is one minute.

    python tests/published/converter.py FILE "where it comes from"

prints the scenario for such a file.
"""

from __future__ import annotations

import re
import sys
import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

START = "2027-01-04"


@dataclass(frozen=True)
class Project:
    """A project: for each job (from 1) its duration, successors and needs of each resource; and what there is."""

    durations: dict[int, int]
    successors: dict[int, list[int]]
    needs: dict[int, list[int]]
    available: list[int]


def read_job_shop(text: str) -> list[list[tuple[int, int]]]:
    """For each job its (machine, time) pairs in order. Raises ValueError if the numbers do not add up."""
    n_jobs, n_machines, *numbers = (int(word) for word in text.split())
    if len(numbers) != 2 * n_jobs * n_machines:
        raise ValueError(f"{n_jobs} jobs on {n_machines} machines are not {len(numbers)} numbers")
    pairs = list(zip(numbers[::2], numbers[1::2], strict=True))
    return [pairs[job * n_machines : (job + 1) * n_machines] for job in range(n_jobs)]


def read_project(text: str) -> Project:
    """The project of a single-mode file. Raises ValueError if a section is missing."""
    sections = {
        title.strip(): [
            [int(word) for word in line.split()] for line in body.splitlines() if re.match(r"[\s\d]+$", line)
        ]
        for title, body in re.findall(r"^([A-Z/ ]+):\n(.*?)^\*\*\*", text, re.MULTILINE | re.DOTALL)
    }
    missing = {"PRECEDENCE RELATIONS", "REQUESTS/DURATIONS", "RESOURCEAVAILABILITIES"} - set(sections)
    if missing:
        raise ValueError(f"no section {', '.join(sorted(missing))}")
    relations = [row for row in sections["PRECEDENCE RELATIONS"] if row]
    requests = [row for row in sections["REQUESTS/DURATIONS"] if row]
    if any(row[1] != 1 for row in relations):
        raise ValueError("a job has several modes")
    return Project(
        durations={job: time for job, _, time, *_ in requests},
        successors={job: after for job, _, _, *after in relations},
        needs={job: needs for job, _, _, *needs in requests},
        available=next(row for row in sections["RESOURCEAVAILABILITIES"] if row),
    )


def write_job_shop(jobs: Sequence[Sequence[tuple[int, int]]], title: str = "job shop", origin: str = "") -> str:
    """The scenario of a job shop: designs "job 1".., operations "step 1".., stations "machine 0".."""
    machines = sorted({machine for job in jobs for machine, _ in job})
    lines = [
        *_heading(title, origin),
        "stations = [" + ", ".join(f'{{ name = "machine {machine}" }}' for machine in machines) + "]",
    ]
    for number, job in enumerate(jobs, 1):
        lines += ["", "[[designs]]", f'name = "job {number}"', "operations = ["]
        for step, (machine, time) in enumerate(job, 1):
            lines.append(
                f'  {{ name = "step {step}", station = "machine {machine}", hands = 0, work = "{time} min" }},'
            )
        lines.append("]")
    lines += ["", "[run]", f"start = {START}", f"pieces_open = {len(jobs)}", "lines = ["]
    lines += [f'  {{ design = "job {number}", orders = 1 }},' for number in range(1, len(jobs) + 1)]
    return "\n".join([*lines, "]", ""])


def write_project(project: Project, title: str = "project", origin: str = "") -> str:
    """The scenario of a project: one design with operations "job 1".., kinds of clamps "R1".."""
    before: dict[int, list[int]] = {job: [] for job in project.durations}
    for job, after in project.successors.items():
        for later in after:
            before[later].append(job)
    kinds = ", ".join(f'{{ name = "R{n}", count = {count} }}' for n, count in enumerate(project.available, 1))
    lines = [*_heading(title, origin), f"clamps = [{kinds}]", "", "[design]", 'name = "project"', "operations = ["]
    for job, time in project.durations.items():
        after_text = ", ".join(f'"job {earlier}"' for earlier in before[job])
        needs = [f'{{ count = {count}, kind = "R{n}" }}' for n, count in enumerate(project.needs[job], 1) if count]
        clamps = f", clamps = [{', '.join(needs)}]" if needs else ""
        lines.append(f'  {{ name = "job {job}", after = [{after_text}], hands = 0, work = "{time} min"{clamps} }},')
    return "\n".join([*lines, "]", "", "[run]", f"start = {START}", "orders = 1", ""])


def write_tasks(
    times: Sequence[object], after: Mapping[int, Sequence[int]], shop: str, need: str = "hands = 0", orders: int = 1
) -> str:
    """The scenario of single tasks (from 1) with the tasks each comes after; ``shop`` and ``need`` say where it is done.

    A time is a number of minutes, or a TOML value as the language has it. With several ``orders`` each makes a piece
    of its own.
    """
    lines = [*_heading("tasks", ""), shop, "", "[design]", 'name = "tasks"', "operations = ["]
    for number, time in enumerate(times, 1):
        work = time if isinstance(time, str) else f'"{time} min"'
        names = ", ".join(f'"task {earlier}"' for earlier in after.get(number, ()))
        lines.append(f'  {{ name = "task {number}", after = [{names}], {need}, work = {work} }},')
    return "\n".join([*lines, "]", "", "[run]", f"start = {START}", f"orders = {orders}", ""])


def _heading(title: str, origin: str) -> list[str]:
    comment = [f"# {line}" for line in textwrap.wrap(origin, 116)]
    return [*comment, *([""] if comment else []), f'title = "{title}"', "", "[shop]", 'open = "always"']


def main() -> None:
    """Print the scenario for the file named first; the second argument is its origin, put above as a comment."""
    path, origin = Path(sys.argv[1]), sys.argv[2]
    text = path.read_text(encoding="ascii")
    write = write_project(read_project(text), path.stem, origin) if path.suffix == ".sm" else ""
    sys.stdout.write(write or write_job_shop(read_job_shop(text), path.stem, origin))


if __name__ == "__main__":
    main()
