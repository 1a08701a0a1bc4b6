"""Reads and runs mutants in a process of its own, whose memory and time are bounded; prints one JSON object.

    OPENBLAS_NUM_THREADS=1 python -m bad_input.try_mutants FIRST LAST        (in the folder tests)

Every mutant must be refused in under a second, each fault with its rule and its mend, or be accepted and run twice, at
likely times and with luck, within RUN_S seconds each. A run may end with RunError, which is then counted; anything
else that is raised is a finding, as is a mutant that takes the memory. One that ends the process itself is found by
whoever started it: the number of each is written to standard error before it is tried.
"""

from __future__ import annotations

import json
import resource
import signal
import sys
import time
import traceback
import warnings
from collections import Counter
from dataclasses import dataclass, field
from types import FrameType

from shopsim.errors import RunError, ShopSimError
from shopsim.scenario import Reading, read_scenario_text
from shopsim.study.once import run_once

from .mutate import Mutant, mutate, read_examples

#: Processor seconds in which a faulty file is refused, and in which a run ends.
REFUSE_S = 1.0
RUN_S = 30.0
MEMORY = 1_000_000_000
#: A run of at most so many tasks must also keep the laws of a record, which takes longer than the run.
CHECKED_TASKS = 300
#: How faults begin that are of a whole file, so that there is no line to name.
_OF_THE_WHOLE_FILE = ("is written in ", "is an empty ", "is larger than ")


class TooSlow(BaseException):
    """The time is up; no handler of ordinary errors takes it."""


def _time_is_up(_number: int, _frame: FrameType | None) -> None:
    raise TooSlow


def bound_this_process() -> None:
    """Memory over MEMORY is refused by the system, the processor's clock can ring, and a warning is an error."""
    resource.setrlimit(resource.RLIMIT_DATA, (MEMORY, MEMORY))
    warnings.simplefilter("error")
    signal.signal(signal.SIGVTALRM, _time_is_up)


def look_at_refusal(reading: Reading, spent_s: float) -> list[str]:
    """What is wrong with how a file was refused."""
    wrong = [] if spent_s < REFUSE_S else [f"refused after {spent_s:.2f} s"]
    if reading.scenario is None and not reading.faults:
        wrong.append("no scenario and no faults")
    if reading.scenario is not None and reading.faults:
        wrong.append("a scenario that has faults")
    for fault in (*reading.faults, *reading.warnings):
        if not (fault.file and fault.rule and fault.mend):
            wrong.append(f"a fault without file, rule or mend: {fault}")
        if fault.line is None and not fault.place and not fault.rule.startswith(_OF_THE_WHOLE_FILE):
            wrong.append(f"a fault without a place: {fault}")
        if not str(fault).isprintable() or len(str(fault)) > 2000:
            wrong.append(f"a fault that cannot be printed on a line: {fault!r}")
    return wrong


@dataclass
class Tally:
    """What became of the mutants tried so far; times are processor seconds, each with its mutant's number."""

    counts: Counter[str] = field(default_factory=Counter)
    findings: dict[int, list[str]] = field(default_factory=dict)
    slowest_refusal: tuple[float, int] = (0.0, -1)
    slowest: tuple[float, int] = (0.0, -1)
    peak_mb: float = 0.0


def try_mutant(mutant: Mutant, number: int, tally: Tally) -> list[str]:
    """What is wrong with how one mutant is taken; empty if nothing is."""
    signal.setitimer(signal.ITIMER_VIRTUAL, RUN_S)
    try:
        since = time.process_time()
        reading = read_scenario_text(mutant.text, "mutant.toml", beside=mutant.beside)
        spent_s = time.process_time() - since
        if reading.scenario is None:
            tally.counts["refused"] += 1
            tally.slowest_refusal = max(tally.slowest_refusal, (spent_s, number))
            return look_at_refusal(reading, spent_s)
        tally.counts["ran"] += 1
        wrong = look_at_refusal(reading, 0.0) if reading.faults or reading.warnings else []
        for likely in (True, False):
            signal.setitimer(signal.ITIMER_VIRTUAL, RUN_S)
            try:
                run = run_once(reading.scenario, seed=number, likely=likely)
            except RunError as error:
                tally.counts["runs ended by a limit"] += 1
                if not str(error).isprintable() or " · " not in str(error):
                    wrong.append(f"a run that ends without saying what to do: {error!r}")
                continue
            if run.plan.worklist.n_tasks <= CHECKED_TASKS:
                tally.counts["records checked"] += 1
                wrong += [f"likely={likely}: {breach}" for breach in run.check()]
        return wrong
    except TooSlow:
        return [f"takes more than {RUN_S:.0f} s: {traceback.format_exc(limit=-3)}"]
    except ShopSimError as error:
        return [f"{type(error).__name__} where none belongs: {error}"]
    except Exception:  # whatever else comes out is what is looked for
        return [traceback.format_exc(limit=-4)]
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)


def main(first: int, last: int) -> None:
    """Tries mutants ``first`` to ``last - 1``."""
    bound_this_process()
    examples = read_examples()
    tally = Tally()
    for number in range(first, last):
        print(number, file=sys.stderr, flush=True)
        since = time.process_time()
        wrong = try_mutant(mutate(number, examples), number, tally)
        tally.slowest = max(tally.slowest, (time.process_time() - since, number))
        if wrong:
            tally.findings[number] = wrong[:3]
    tally.peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(json.dumps(vars(tally)))


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]))
