"""``shopsim decide``, ``batches``, ``clamps``, ``holdups``, ``delivery`` and ``now``: run many times, compare, print the answers."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from typing import Any

from rich.console import Console

from shopsim.answers import Answer, list_cautions
from shopsim.answers.plan_of_days import DAYS
from shopsim.answers.question import ask
from shopsim.cli import buying_files, days_command, delivery_command, now_command
from shopsim.cli.command_output import load_told, stamp, write_json, write_out
from shopsim.cli.complaints import complain
from shopsim.cli.cores import choose_cores
from shopsim.cli.once_command import print_plan
from shopsim.cli.options import QUESTIONS
from shopsim.cli.out_folder import check_out
from shopsim.cli.printing import make_console, print_cautions, print_table, say
from shopsim.cli.saved_studies import check_target, open_held, save_runs
from shopsim.cli.stopping import listen_for_stop, show_progress
from shopsim.engine.compiling import is_switched_off, why_not_compiled
from shopsim.errors import InputError
from shopsim.questions import Kind, find_command
from shopsim.rows import table_rows
from shopsim.scenario import PRIORITY_RULES, Scenario
from shopsim.scenario.batches import rules_to_compare
from shopsim.scenario.places import NameSuggester
from shopsim.screens import further_tables, screen_table
from shopsim.study.execution import Execution


def run_command(args: argparse.Namespace) -> int:
    """Load, run, print; 3 if the user stopped before the end and what is printed rests on fewer runs."""
    scenario = load_told(args)
    if args.command == "delivery":
        scenario = delivery_command.change_batches(args, scenario)
    if args.out:
        check_out(args.out, args.replace)
    if args.command in QUESTIONS:
        check_target(args, scenario)
    seen = days_command.check_keep(args) if args.command == "days" else None
    answers = _ask(args, scenario)
    if seen is not None:
        days_command.keep_plan(args, answers, seen)
    if args.json:
        write_json(_result(args, scenario, answers))
    else:
        _print(make_console(), scenario, answers)
    if args.command in QUESTIONS:
        save_runs(args, scenario, answers)
    if args.out:
        _write(args, scenario, answers)
    if (reason := why_not_compiled()) and not is_switched_off():
        complain([f"runs take longer than they need to, as no compiled floor can be had: {reason}"])
    partial = [answer for answer in answers if answer.partial]
    if partial:
        complain([f"stopped before the end: rests on {min(answer.replications for answer in partial):,} replications"])
    return 3 if partial else 0


def _write(args: argparse.Namespace, scenario: Scenario, answers: Sequence[Answer]) -> None:
    """Every table of every answer as CSV, and the report."""
    from shopsim.report import build_section

    tables = {answer.key: answer.rows for answer in answers}
    for answer in answers:
        tables |= answer.tables
    made_with = stamp(scenario, args.seed, max(answer.replications for answer in answers))
    sections = [build_section(answer, {"": screen_table(answer), **further_tables(answer)}) for answer in answers]
    write_out(
        args,
        tables,
        scenario,
        made_with,
        sections,
        _more_files(args, answers, scenario),
    )


def _more_files(args: argparse.Namespace, answers: Sequence[Answer], scenario: Scenario) -> dict[str, bytes] | None:
    if args.command == "delivery":
        return delivery_command.more_files(answers)
    if args.command == "buying":
        return buying_files.more_files(answers, scenario)
    return days_command.more_files(answers, scenario) if args.command == "days" else None


def _ask(args: argparse.Namespace, scenario: Scenario) -> tuple[Answer, ...]:
    """The answers of the command that was typed."""
    options: dict[str, Any] = {}
    if args.command in QUESTIONS:
        held = options["reuse"] = open_held(args, scenario)
        if held is not None and len(held.names) > 1:  # no more of anything than there is of what was run most
            options["replications"] = max(outcome.replications.size for outcome in held.outcomes.values())
    options["seed"] = args.seed
    if args.replications is not None:
        options["replications"] = args.replications
    kind = find_command(args.command)
    with listen_for_stop() as stop, choose_cores(args) as cores, show_progress("runs") as tell:
        options |= {**cores, "on_progress": tell, "should_stop": stop.asked}
        if args.command == "delivery":
            return delivery_command.ask(args, scenario, options)
        if args.command == "now":
            return (ask(now_command.make_question(args, scenario), Execution.of(options)),)  # type: ignore[arg-type]
        asked = ask(kind.make(scenario, **_read_options(args, kind, scenario)), Execution.of(options))  # type: ignore[arg-type]
    return asked if isinstance(asked, tuple) else (asked,)


def _read_options(args: argparse.Namespace, kind: Kind, scenario: Scenario) -> dict[str, Any]:
    """What was said of a question, as it takes it; what was left out is its own to choose."""
    said = {option.name: getattr(args, option.name) for option in kind.options}
    return {
        name: _READ[name](value, scenario) if name in _READ else value
        for name, value in said.items()
        if value is not None
    }


def _priority_rules(asked: str, scenario: Scenario) -> list[str]:
    if asked.strip().casefold() == "all":
        return list(rules_to_compare(scenario))
    names = [name.strip() for name in asked.split(",")]
    for name in names:
        if name not in (*PRIORITY_RULES, scenario.run.priority):
            near = NameSuggester().nearest(name, PRIORITY_RULES)
            mend = f'write "{near}"' if near else f'write "all", or one of {", ".join(PRIORITY_RULES)}'
            raise InputError(f'--priority · there is no priority rule "{name}" · {mend}')
    return names


def _kinds(asked: str, scenario: Scenario) -> list[str]:
    known = [kind.name for kind in scenario.shop.clamps]
    if asked not in known:
        near = NameSuggester().nearest(asked, known)
        mend = f'write "{near}"' if near else f"the shop has {', '.join(known) or 'no clamps'}"
        raise InputError(f'--kind · there is no clamp kind "{asked}" in the file · {mend}')
    return [asked]


def _added(asked: Sequence[int], _scenario: Scenario) -> list[int]:
    """How many to add; none at all is today, which is in the table anyway."""
    more = [count for count in asked if count]
    if not more:
        raise InputError("--add · 0 alone is what the shop has today · add a number above 0, like 4")
    return more


#: How the value of an option is read in view of the scenario, where its kind does not say all.
_READ: dict[str, Callable[[Any, Scenario], Any]] = {"priority_rules": _priority_rules, "kinds": _kinds, "add": _added}


def _result(args: argparse.Namespace, scenario: Scenario, answers: Sequence[Answer]) -> dict[str, Any]:
    """One object: the answer; for several answers each of them, and their rows tagged by their keys."""
    if len(answers) == 1:
        return answers[0].to_dict()
    return {
        **stamp(scenario, args.seed, max(answer.replications for answer in answers)),
        "partial": any(answer.partial for answer in answers),
        "rows": [{"answer": answer.key, **row} for answer in answers for row in table_rows(answer.rows)],
        "sentence": " ".join(answer.sentence for answer in answers),
        "answers": [answer.to_dict() for answer in answers],
    }


def _print(console: Console, scenario: Scenario, answers: Sequence[Answer]) -> None:
    say(console, scenario.title, "bold")
    for answer in answers:
        say(console, "")
        say(console, answer.title, "bold")
        say(console, answer.sentence)
        say(console, "")
        if answer.key == DAYS:
            print_plan(console, answer.rows)
        else:
            print_table(console, screen_table(answer))
        for title, table in further_tables(answer).items():
            print_table(console, table, title=title)
        delivery_command.print_words(console, [answer])
        for note in answer.notes:
            say(console, f"- {note}")
    if len(answers) > 1:
        _name_cautions(console, scenario)
    if any(answer.key == DAYS for answer in answers):
        print_cautions(console, list_cautions(scenario))


def _name_cautions(console: Console, scenario: Scenario) -> None:
    """The cautions of the work that the answers plan, by name; their texts stand where its steps do."""
    cautions = list_cautions(scenario)["caution"].tolist()
    if cautions:
        say(console, "")
        say(console, "Cautions for this work", "bold")
        say(console, f"{'; '.join(cautions)}. shopsim once says what each means and names the steps it belongs to.")
