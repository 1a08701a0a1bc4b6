"""``shopsim times``: what to time first; and logs of times, days and shipped orders taken into the file."""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd
from rich.console import Console

from shopsim.answers import Answer
from shopsim.answers.learning import Lesson, learn_from_logs
from shopsim.answers.log_files import check_can_learn, read_logs, write_learned
from shopsim.answers.what_moves import find_what_moves
from shopsim.cli.command_output import load_told, stamp, write_json, write_out
from shopsim.cli.complaints import complain
from shopsim.cli.cores import choose_cores
from shopsim.cli.out_folder import check_out
from shopsim.cli.printing import make_console, print_table, say
from shopsim.cli.stopping import listen_for_stop, show_progress
from shopsim.errors import InputError
from shopsim.scenario import Scenario, load_scenario
from shopsim.screen_tables import lesson_screen, what_moves_screen


def run_command(args: argparse.Namespace) -> int:
    """Without a log: what to time first. With logs: before and after, and with ``--write`` into the file."""
    scenario = load_told(args)
    if args.out:
        check_out(args.out, args.replace)
    if args.log is None and args.days is None and args.shipped is None:
        if args.believe:
            raise InputError("--believe · there is no log to believe · name one, like: shopsim times FILE LOG.csv")
        if args.write:
            raise InputError("--write · there is no log to learn from · name one, like: shopsim times FILE LOG.csv")
        return _print_what_moves(args, scenario)
    logs = read_logs(scenario, args.log, args.days, args.shipped)
    if args.write and args.settings:
        raise InputError("--write · together with --set it would learn for a file that is not there · leave out --set")
    if args.write:
        check_can_learn(args.file)
    with listen_for_stop() as stop, choose_cores(args) as cores, show_progress("runs") as tell:
        lesson = learn_from_logs(
            scenario, logs, believe=args.believe, on_progress=tell, should_stop=stop.asked, **cores, **_options(args)
        )
    written, failure = False, None
    if args.write and not lesson.answer.partial:
        try:
            written = _write(args, scenario, lesson)
        except InputError as error:
            failure = error  # told last: the answer took long, and is not lost
    _show(
        args, scenario, lesson.answer, lesson_screen(lesson.answer), {"flags": list(lesson.flags), "written": written}
    )
    if failure is not None:
        raise failure
    return _end(lesson.answer)


def _options(args: argparse.Namespace) -> dict[str, Any]:
    options: dict[str, Any] = {"confidence": args.confidence / 100, "seed": args.seed}
    if args.replications is not None:
        options["replications"] = args.replications
    return options


def _print_what_moves(args: argparse.Namespace, scenario: Scenario) -> int:
    with listen_for_stop() as stop, choose_cores(args) as cores, show_progress("runs") as tell:
        answer = find_what_moves(scenario, on_progress=tell, should_stop=stop.asked, **cores, **_options(args))
    _show(args, scenario, answer, what_moves_screen(answer), {})
    return _end(answer)


def _write(args: argparse.Namespace, scenario: Scenario, lesson: Lesson) -> bool:
    """Write into the file, read it again, and make sure that it says what was learned; False where nothing is new."""
    if lesson.learned == scenario.learned:
        complain([f"{args.file}: nothing new to write"])
        return False
    written = write_learned(args.file, lesson.learned, scenario)
    if load_scenario(args.file).learned != lesson.learned:
        raise InputError(f"{args.file} · does not read back as it was written · look at its [learned] table")
    complain([f"written to {written}: the table [learned]"])
    return True


def _show(
    args: argparse.Namespace, scenario: Scenario, answer: Answer, screen: pd.DataFrame, more: Mapping[str, Any]
) -> None:
    made_with = stamp(scenario, args.seed, answer.replications)
    if args.json:
        write_json({**answer.to_dict(), **more})
    else:
        _print(make_console(), scenario, answer, screen, more.get("flags", ()))
    if args.out:
        from shopsim.report import Section

        notes = (*more.get("flags", ()), *answer.notes)
        section = Section(answer.title, answer.sentence, (), {"": screen}, notes)
        write_out(args, {answer.key: answer.rows}, scenario, made_with, [section])


def _print(console: Console, scenario: Scenario, answer: Answer, screen: pd.DataFrame, flags: Sequence[str]) -> None:
    say(console, scenario.title, "bold")
    say(console, "")
    say(console, answer.title, "bold")
    say(console, answer.sentence)
    say(console, "")
    print_table(console, screen)
    for line in (*flags, *answer.notes):
        say(console, f"- {line}")


def _end(answer: Answer) -> int:
    if answer.partial:
        complain([f"stopped before the end: rests on {answer.replications:,} replications; nothing is written"])
    return 3 if answer.partial else 0
