"""People who come and go, against a second program of the rule that looks at the shop once a minute and knows no events.

The program below is written from the rule alone: whoever is there takes up what they began, then what has lain longest
goes on with the first who can, then new work begins. It shares nothing with the engine but the scenario.
"""

from __future__ import annotations

import json
import random
from dataclasses import dataclass, field

import pytest

from shopsim import run_once
from shopsim.scenario import parse_scenario

DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
STRETCHES = ("08:00-12:00", "08:00-10:00", "10:00-11:30", "09:00-16:00", "13:00-16:00", "08:00-11:00, 12:00-16:00")


@dataclass
class Worker:
    """Hours on each weekday, as a file has them, and what they can do; None: everything."""

    hours: dict[str, str]
    can: list[str] | None

    def list_minutes(self) -> list[bool]:
        """For each minute of the week, from midnight before Monday, whether they are at work."""
        week = [False] * (7 * 1440)
        for day, said in self.hours.items():
            for stretch in said.split(", "):
                since, until = (DAYS.index(day) * 1440 + int(end[:2]) * 60 + int(end[3:]) for end in stretch.split("-"))
                week[since:until] = [True] * (until - since)
        return week


@dataclass
class Job:
    """One operation on one piece: minutes left, and for each stretch of work since when, until when and by whom."""

    name: str
    hands: int
    left: int
    stretches: list[list[object]] = field(default_factory=list)


def work_by_minutes(workers: list[Worker], steps: list[tuple[str, int, int]], n_pieces: int) -> list[Job]:
    """Every job, step by step and in each piece by piece, when all are done."""
    jobs = [Job(name, hands, minutes) for name, minutes, hands in steps for _ in range(n_pieces)]
    able = {
        name: sorted(
            (n for n, worker in enumerate(workers) if worker.can is None or name in worker.can),
            key=lambda n: (99 if workers[n].can is None else len(workers[n].can or ()), n),
        )
        for name, _, _ in steps
    }
    weeks = [worker.list_minutes() for worker in workers]
    crews: dict[int, list[int]] = {}
    lying: list[int] = []
    begun: list[int] = []
    done: set[int] = set()
    minute = 0
    while len(done) < len(jobs):
        here = {n for n, week in enumerate(weeks) if week[minute % len(week)]}
        left_now = []
        for number, crew in list(crews.items()):
            if jobs[number].left == 0 or not here.issuperset(crew):
                jobs[number].stretches[-1][1] = minute
                del crews[number]
                (left_now.append if jobs[number].left else done.add)(number)
        lying += sorted(left_now, key=begun.index)
        free = here - {worker for crew in crews.values() for worker in crew}

        def put(number: int, crew: list[int], free: set[int] = free, minute: int = minute) -> None:
            crews[number] = crew
            free.difference_update(crew)
            jobs[number].stretches.append([minute, -1, sorted(crew)])

        for number in lying.copy():
            first = jobs[number].stretches[0][2]
            assert isinstance(first, list)
            if free.issuperset(first):
                lying.remove(number)
                put(number, first)
        for number in lying.copy():
            job = jobs[number]
            first, last = job.stretches[0][2], job.stretches[-1][2]
            assert isinstance(first, list)
            assert isinstance(last, list)
            can = able[job.name]
            in_turn = [worker for some in (first, last, can) for worker in can if worker in some and worker in free]
            crew = list(dict.fromkeys(in_turn))[: job.hands]
            if len(crew) == job.hands:
                lying.remove(number)
                put(number, crew)
        for number, job in enumerate(jobs):
            is_ready = number < n_pieces or number - n_pieces in done
            crew = [worker for worker in able[job.name] if worker in free][: job.hands]
            if not job.stretches and is_ready and len(crew) == job.hands:
                begun.append(number)
                put(number, crew)
        for number in crews:
            jobs[number].left -= 1
        minute += 1
    return jobs


def draw_shop(luck: random.Random) -> tuple[list[Worker], list[tuple[str, int, int]], int]:
    """People with hours and skills of their own, two or three steps, some for two, and a few pieces."""
    steps = [(f"step {n}", luck.randint(20, 400), luck.choice((1, 1, 2))) for n in range(luck.randint(2, 3))]
    names = [name for name, _, _ in steps]
    workers = [Worker({"mon": "08:00-12:00", "wed": "09:00-16:00"}, None), Worker({"wed": "13:00-16:00"}, None)]
    for _ in range(luck.randint(1, 3)):
        can = luck.choice((None, luck.sample(names, luck.randint(1, len(names)))))
        workers.append(Worker({luck.choice(DAYS[:5]): "08:00-10:00"}, can))
    for worker in workers:
        for day in luck.sample(("mon", "tue", "thu", "fri"), luck.randint(0, 4)):  # on Wednesdays two can meet
            worker.hours[day] = luck.choice(STRETCHES)
    luck.shuffle(workers)
    return workers, steps, luck.randint(1, 4)


def write_scenario(workers: list[Worker], steps: list[tuple[str, int, int]], n_pieces: int) -> str:
    """The shop as a file."""
    lines = ["[shop]", 'open = { mon-fri = "08:00-16:00" }']
    for n, worker in enumerate(workers):
        hours = ", ".join(f'{day} = "{stretches}"' for day, stretches in worker.hours.items())
        lines += ["[[shop.workers]]", f'name = "worker {n}"', f"open = {{ {hours} }}"]
        lines += [] if worker.can is None else [f"can = {json.dumps(worker.can)}"]
    lines += ["[design]", 'name = "tray"']
    for name, minutes, hands in steps:
        lines += ["[[design.operations]]", f'name = "{name}"', f'work = "{minutes} min"', f"hands = {hands}"]
    return "\n".join(
        [
            *lines,
            "[run]",
            "start = 2027-01-11",
            f"orders = {n_pieces}",
            f"batch = {n_pieces}",
            'priority = "oldest batch"',
        ]
    )


@pytest.mark.parametrize("number", range(40))
def test_who_works_on_what_and_when_is_the_same_when_the_shop_is_looked_at_once_a_minute(number: int) -> None:
    workers, steps, n_pieces = draw_shop(random.Random(number))
    run = run_once(parse_scenario(write_scenario(workers, steps, n_pieces)), likely=True)
    assert run.check() == []
    work = run.plan.worklist
    in_turn = sorted(range(work.n_tasks), key=lambda task: (work.task_step[task], work.task_piece[task]))
    found = []
    for task in in_turn:
        stretches = run.history.hands_on(task)
        found.append(
            [[since, until, [w for w in range(len(workers)) if crew >> w & 1]] for since, until, crew in stretches]
        )
    # a stretch of one crew that goes on at the minute it was left is one
    expected = []
    for job in work_by_minutes(workers, steps, n_pieces):
        joined: list[list[object]] = []
        for since, until, crew in job.stretches:
            if joined and joined[-1][1:] == [since, crew]:
                joined[-1][1] = until
            else:
                joined.append([since, until, crew])
        expected.append(joined)
    assert found == expected
