"""``shopsim check``: what is wrong with a file, and what is in it."""

from __future__ import annotations

import argparse

from rich.console import Console

from shopsim.answers.caution_lists import offer_cautions
from shopsim.answers.hours_per_piece import say_expected_hours
from shopsim.cli.complaints import complain
from shopsim.cli.printing import make_console, print_table, say
from shopsim.cli.stopping import listen_for_stop, show_progress
from shopsim.errors import Cancelled, ScenarioError
from shopsim.scenario import Scenario, read_scenario
from shopsim.scenario.cautions import NONE_NEEDED
from shopsim.study.once import RunResult, run_once

#: Breaches of the laws of a record that are printed before the rest is counted.
MAX_BREACHES = 20


def run_command(args: argparse.Namespace) -> int:
    """Read a file, print warnings and a summary; with ``--deep`` also run it and check what each run leaves."""
    reading = read_scenario(args.file, args.settings)
    if reading.scenario is None:
        raise ScenarioError(reading.faults)
    complain(str(warning) for warning in reading.warnings)
    likely = run_once(reading.scenario, seed=args.seed, likely=True)
    if args.deep:
        breaches = _check_runs(reading.scenario, likely, args.seed, args.replications)
        if breaches:
            complain(breaches[:MAX_BREACHES])
            complain([f"{len(breaches)} laws broken: a mistake in the program, not in the file; please report it"])
            return 1
    console = make_console()
    say(console, f"{args.file}: nothing wrong")
    if reading.warnings:
        say(console, f"{len(reading.warnings)} warning{'s' * (len(reading.warnings) != 1)} above")
    say(console, f"{say_summary(likely)}.")
    say(console, say_expected_hours(reading.scenario, likely, args.seed))
    if args.deep:
        say(console, f"Ran it once without luck and {args.replications} times with luck: every run keeps every rule.")
    _print_offers(console, reading.scenario)
    return 0


def _print_offers(console: Console, scenario: Scenario) -> None:
    """Cautions that steps suggest and do not carry: a remark, after which the file is as right as before."""
    offers = offer_cautions(scenario)
    if offers.empty:
        return
    say(console, "")
    print_table(console, offers, title="Cautions to think of", longest=None)
    key = str(offers["suggests"].iloc[0]).split("; ")[0]
    say(
        console,
        "A step's name, station or kind suggests these, and it does not carry them. This is a remark, no fault: write "
        f'them beside the step, like caution = ["{key}"], or add "{NONE_NEEDED}" where no more is needed.',
    )


def say_summary(likely: RunResult) -> str:
    """How much work there is: pieces, batches, operations, tasks."""
    work = likely.plan.worklist
    n_operations = sum(len(design.operations) for design in work.scenario.all_designs)
    ordered = sum(work.line_orders)
    spare = work.n_pieces - ordered
    counts = [
        f"{_count(work.n_pieces, 'piece')}{f' ({ordered} ordered, {spare} spare)' if spare else ''}",
        _count(len(work.batches), "batch", "batches"),
        _count(n_operations, "operation"),
        _count(work.n_tasks, "task"),
    ]
    return ", ".join(counts)


def _count(number: int, one: str, many: str = "") -> str:
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def _check_runs(scenario: Scenario, likely: RunResult, seed: int, replications: int) -> list[str]:
    """Breaches of the laws of a record in the likely run and in so many with luck, each with the run it is of."""
    breaches = [f"likely run: {breach}" for breach in likely.check()]
    with listen_for_stop() as stop, show_progress("runs checked") as tell:
        for replication in range(replications):
            if stop.asked():
                raise Cancelled(
                    f"stopped after {replication} of {replications} runs: {len(breaches)} laws broken so far"
                )
            run = run_once(scenario, seed=seed, replication=replication)
            breaches += [f"seed {seed}, replication {replication}: {breach}" for breach in run.check()]
            if tell is not None:
                tell(replication + 1, replications)
    return breaches
