"""What ``shopsim delivery`` has of its own: the words to use, the promise sheet as a workbook."""

from __future__ import annotations

import argparse
import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from rich.console import Console

from shopsim.answers import Answer
from shopsim.answers.batches_by import BatchesBy
from shopsim.answers.delivery import delivery_question
from shopsim.answers.order_mix import OrderPlan
from shopsim.answers.promise_sheet import SHEET
from shopsim.answers.question import ask as ask_question
from shopsim.answers.unlogged import say_unlogged
from shopsim.answers.what_moves import USUAL, WhatMoves, check_enough
from shopsim.answers.wording import say_count
from shopsim.answers.words import GENERAL, LATE, write_words
from shopsim.cli.printing import say
from shopsim.cli.readers import BOTH_WAYS
from shopsim.columns import find_table
from shopsim.errors import Cancelled, InputError
from shopsim.export import file_name, format_workbook
from shopsim.scenario import Scenario, change_scenario
from shopsim.scenario.batches import rule_of_other_batches
from shopsim.scenario.places import clean
from shopsim.screens import words_heading, words_text
from shopsim.study.execution import Execution

#: Key of the table of paragraphs to paste, and the file they are written to.
WORDS, WORDS_FILE = "words_to_use", "words-to-use.txt"


def change_batches(args: argparse.Namespace, scenario: Scenario) -> Scenario:
    """The scenario with batches cut as ``--batches-by`` asks for, unless both ways are to be compared."""
    if args.batches_by in (None, BOTH_WAYS, scenario.run.batches_by):
        return scenario
    changes = {"run.batches_by": args.batches_by, "run.priority": rule_of_other_batches(scenario)}
    return change_scenario(scenario, changes)


def ask(args: argparse.Namespace, scenario: Scenario, options: dict[str, Any]) -> tuple[Answer, ...]:
    """The answers of ``delivery``, with words where they are asked for."""
    answers: list[Answer] = []
    _refuse_idle(args, scenario)
    open_book = scenario.run.demand is not None and args.orders is None and args.ship_by is None
    if open_book and (args.save is not None or args.held is not None):
        raise InputError(
            "--save and --from keep the runs of one number of orders, and run.demand asks for many "
            "· leave them out, or name --orders"
        )
    execution = Execution.of(options)  # type: ignore[arg-type]
    asked = scenario
    if isinstance(args.orders, int) and args.ship_by is None:
        asked = OrderPlan(scenario, args.mix).change(args.orders)
    if args.what_moves:
        check_enough(asked, execution.replications or USUAL)
    if args.batches_by == BOTH_WAYS:
        answers.append(ask_question(BatchesBy(asked), execution))
    question = delivery_question(
        scenario,
        args.orders,
        args.confidence / 100,
        service_level=args.service_level / 100,
        ship_by=args.ship_by,
        cap=args.cap,
        so_far=args.so_far,
        mix=args.mix,
    )
    answer = ask_question(question, execution)
    if args.words:
        answer = _add_words(args, asked, answer, _list_what_if(args, scenario, asked))
    if args.what_moves and not answer.partial:
        try:
            moves = ask_question(WhatMoves(asked, args.confidence / 100), execution)
        except Cancelled:
            notes = ("Stopped before it was known what moves the date.", *answer.notes)
            return (*answers, replace(answer, notes=notes, partial=True))
        guessed, known = say_unlogged(asked), say_unlogged(asked, moves.rows)
        answer = replace(answer, notes=tuple(known if note == guessed else note for note in answer.notes))
        return (*answers, answer, replace(moves, study=None))  # its runs are of days that are imagined
    return (*answers, answer)


def _refuse_idle(args: argparse.Namespace, scenario: Scenario) -> None:
    """InputError for an option that would do nothing where it is asked for."""
    one = args.ship_by is None and (
        isinstance(args.orders, int) if args.orders is not None else scenario.run.demand is None
    )
    for option, given in (("--what-moves", args.what_moves), ("--batches-by both", args.batches_by == BOTH_WAYS)):
        if given and not one:
            raise InputError(
                f"{option} is about one number of orders · name one with --orders, and leave out --ship-by"
            )
    if args.batches_by is not None and not any(design.options for design in scenario.all_designs):
        raise InputError(
            "--batches-by · no order asks for an option, as no design has any, so batches are the same either way "
            "· leave it out, or describe options under [[design.options]]"
        )
    for option, given in (("--reason", args.reason), ("--no-hours", args.no_hours)):
        if given and not args.words:
            raise InputError(f"{option} is for the words to paste · add --words")
    if args.reason and not one:
        raise InputError(
            "--reason is for late notes, and none are written for numbers of orders that may come · leave it out"
        )


def _list_what_if(args: argparse.Namespace, scenario: Scenario, asked: Scenario) -> list[str]:
    """What was changed from the file, for the head of every paragraph."""
    changed = [clean(setting) for setting in args.settings]
    if args.batches_by not in (None, BOTH_WAYS):
        changed.append(f"batches by {args.batches_by}")
    if asked.run != scenario.run:
        changed.append(say_count(args.orders, "order"))
    if args.cap is not None:
        changed.append(f"a cap of {args.cap}")
    return changed


def _add_words(args: argparse.Namespace, scenario: Scenario, answer: Answer, what_if: Sequence[str]) -> Answer:
    """The answer with its words to use, and with what must be read beside them."""
    reason = _read_reasons(args.reason or [], answer)
    words = write_words(
        scenario, answer, today=dt.date.today(), reason=reason, hours=not args.no_hours, what_if=what_if
    )
    notes = tuple(dict.fromkeys((*answer.notes, *GENERAL)))
    if reason and not (words["kind"] == LATE).any():
        notes = ("No order is late, so that the reason stands in no text.", *notes)
    return replace(answer, tables={**answer.tables, WORDS: words}, notes=notes)


def _read_reasons(texts: Sequence[str], answer: Answer) -> str | dict[str, str] | None:
    """A reason for all late orders, or one for each by its id. InputError for an order that is not late, or two for one."""
    late = {str(row["order"]) for row in answer.rows.to_dict("records") if row.get("late")}
    known = {str(row["order"]) for row in answer.rows.to_dict("records") if row.get("order")}
    own: dict[str, str] = {}
    for text in texts:
        order, mark, why = text.partition("=")
        if not mark or order.strip() not in known:
            if len(texts) > 1:
                raise InputError(
                    f'--reason · "{clean(text, 60)}" names no order of the run · write one reason for all, or ORDER=TEXT for each'
                )
            return text
        if order.strip() not in late:
            raise InputError(f"--reason · order {clean(order.strip(), 60)} is not late · leave its reason out")
        if order.strip() in own:
            raise InputError(f"--reason · order {clean(order.strip(), 60)} is given two reasons · keep one")
        own[order.strip()] = why
    return own or None


def print_words(console: Console, answers: Sequence[Answer]) -> None:
    """The paragraphs, each under what it is for."""
    for answer in answers:
        for row in answer.tables[WORDS].to_dict("records") if WORDS in answer.tables else ():
            say(console, words_heading({str(key): value for key, value in row.items()}), "bold")
            say(console, row["text"])
            say(console, "")


def more_files(answers: Sequence[Answer]) -> dict[str, bytes]:
    """The promise sheet as XLSX, and the words as text, by the names of their files."""
    files: dict[str, bytes] = {}
    for answer in answers:
        if SHEET in answer.tables:
            files[file_name(SHEET, ".xlsx")] = format_workbook({find_table(SHEET).title: answer.tables[SHEET]})
        if WORDS in answer.tables:
            files[WORDS_FILE] = words_text(answer.tables[WORDS]).encode()
    return files
