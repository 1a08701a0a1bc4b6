"""Studies one after the other leave nothing behind: no memory, no open files, no threads, no processes.

    pytest tests/large/test_long.py --hours 1 -s

``--hours`` sets how long (default: 24 rounds, half a minute). A round loads a file that nobody has
loaded before, asks every question of it and draws the charts; every tenth does so in two processes.
"""

from __future__ import annotations

import datetime as dt
import json
import subprocess
import sys
import time
from dataclasses import asdict
from pathlib import Path

import numpy as np
import pytest

from shopsim import (
    compare_batch_sizes,
    compare_clamps,
    find_holdups,
    forecast_delivery,
    open_study,
    parse_scenario,
    run_once,
    run_study,
)
from shopsim.answers import list_cautions, plan_days
from shopsim.charts.for_answers import build_for_answer
from shopsim.report import build_section, format_report
from shopsim.scenario import dump_scenario

from .large_files import Held, look_at_process

#: Rounds where no time is asked for; and those before anything is measured, in which caches fill and the first
#: worker processes bring the one process with them that Python keeps for cleaning up after them.
ROUNDS, WARM_UP = 24, 12
#: Bytes by which the memory of a process comes and goes by itself: half a megabyte was seen, and once it is warm no more.
PLAY = 6 * 2**20

SHOP = """\
title = "Trays, round {number}"
[shop]
open = {{ mon-fri = "08:00-12:00, 13:00-{close}" }}
stations = [{{ name = "bench {number}" }}]
clamps = [{{ name = "band clamp", count = {clamps}, price = 18.0 }}]
[design]
name = "serving tray"
operations = [
  {{ name = "cut", setup = "10 min", work = "20 / {likely:.2f} / 60 min", caution = "table saw" }},
  {{ name = "glue {number}", station = "bench {number}", work = "10 / 15 / 30 min", clamps = [{clamp}], in_clamps = "2 / 4 / 6 h" }},
  {{ name = "sand", work = "10 / 20 / 40 min", dusty = true }},
  {{ name = "oil", work = "5 / 8 / 12 min", wet = "1 h", cure = "12 h" }},
]
[run]
orders = {orders}
batch = 2
start = 2027-01-11
"""


def ask_everything(number: int, folder: Path) -> int:
    """One round: a file of its own, every answer, charts, report, a study kept and opened; how many runs were made."""
    rng = np.random.default_rng(number)
    scenario = parse_scenario(
        SHOP.format(
            number=number,
            close=f"{int(rng.integers(14, 19))}:00",
            clamp='{ kind = "band clamp", count = 1 }',
            clamps=int(rng.integers(2, 6)),
            likely=rng.uniform(25.0, 50.0),
            orders=int(rng.integers(4, 9)),
        )
    )
    jobs = 2 if number % 10 == 9 else 1
    answers = [
        compare_batch_sizes(scenario, (1, 2, 4), replications=20, seed=number, jobs=jobs),
        compare_clamps(scenario, replications=20, seed=number),
        find_holdups(scenario, replications=20, seed=number),
        forecast_delivery(scenario, replications=60, seed=number),
    ]
    sections = [build_section(answer) for answer in answers]
    assert sum(len(build_for_answer(answer.key, answer.rows, answer.tables)) for answer in answers) >= 4
    text = format_report(
        sections,
        title=scenario.title,
        scenario_text=dump_scenario(scenario),
        stamp={"seed": number},
        date=dt.date(2027, 1, 11),
        cautions=list_cautions(scenario),
    )
    assert scenario.title in text
    run = run_once(scenario, seed=number)
    assert run.check() == []
    assert len(plan_days(run)) > 0
    study = run_study({"now": scenario}, replications=20, seed=number)
    study.save(folder / "study.zip")
    assert open_study(folder / "study.zip").replications == 20
    return sum(answer.replications for answer in answers) + 20


def say(round_number: int, seconds: float, runs: int, now: Held) -> str:
    return (
        f"{round_number:>7} rounds {seconds / 60:>7.1f} min {runs:>9,} replications "
        f"{now.memory / 2**20:>8.1f} MB {now.files:>4} files {now.threads:>3} threads {now.children:>3} processes"
    )


def watch_rounds(hours: float, folder: Path) -> None:
    """Rounds for so many hours; the last line printed says how many there were, how many runs, and what was held when."""
    begun, runs, number = time.monotonic(), 0, 0
    seen: list[Held] = []
    while number < ROUNDS if hours <= 0 else (number < ROUNDS or time.monotonic() - begun < hours * 3600):
        runs += ask_everything(number, folder)
        number += 1
        if number >= WARM_UP and (hours <= 0 or number % 50 == 0 or number == WARM_UP):
            seen.append(look_at_process())
            print(say(number, time.monotonic() - begun, runs, seen[-1]), file=sys.stderr, flush=True)
    print(json.dumps([number, runs, [asdict(held) for held in (*seen, look_at_process())]]))


#: Begins rounds in a process that has done nothing else: what other tests left would come and go among them.
BEGIN = (
    "import sys; from pathlib import Path; sys.path.insert(0, sys.argv[1]); from large.test_long import watch_rounds; "
    "watch_rounds(float(sys.argv[2]), Path(sys.argv[3]))"
)


@pytest.mark.slow
def test_hours_of_studies_leave_nothing_behind(request: pytest.FixtureRequest, tmp_path: Path) -> None:
    tests, hours = Path(__file__).parents[1], request.config.getoption("--hours")
    command = [sys.executable, "-c", BEGIN, str(tests), str(hours), str(tmp_path)]
    done = subprocess.run(command, stdout=subprocess.PIPE, text=True, check=False)
    assert done.returncode == 0
    number, runs, found = json.loads(done.stdout.splitlines()[-1])
    *seen, last = (Held(**held) for held in found)
    first = seen[0]
    assert number >= ROUNDS
    assert runs == 140 * number  # so much was done, and not less
    assert last.files <= first.files
    assert last.threads <= first.threads
    assert last.children <= first.children
    # the least of the last third against the most of the first third: growth shows whatever comes and goes
    third = max(1, len(seen) // 3)
    before = max(held.memory for held in seen[:third])
    after = min(held.memory for held in seen[-third:])
    assert after - before <= PLAY, f"grew from {before / 2**20:.0f} to {after / 2**20:.0f} MB in {number} rounds"
