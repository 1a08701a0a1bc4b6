"""What can be typed: the commands, their options, and the help a maker reads."""

from __future__ import annotations

import argparse
import re
from collections.abc import Sequence
from typing import Any

from shopsim.cli.help_texts import COMMANDS, EXAMPLES
from shopsim.cli.readers import amount, count, day, list_of, named, orders, percent, way, whole
from shopsim.limits import MAX_COMMAND_REPLICATIONS, MAX_JOBS, MAX_SEED
from shopsim.questions import AMOUNT, KINDS, SWITCH, TEXT, WHOLE, WHOLES, Kind
from shopsim.version import VERSION

#: Commands that compare or forecast from many runs, and those of them that answer one question.
STUDIES = tuple(kind.command.name for kind in KINDS if kind.command is not None)
QUESTIONS = tuple(kind.command.name for kind in KINDS if kind.command is not None and not kind.several)


def join_numbers(words: Sequence[str]) -> list[str]:
    """The words of a command, a value that begins with a minus joined to its option: ``--add -4,8`` is ``--add=-4,8``.

    So the option's own reader sees it and says what would be right; else it would be taken for an option.
    """
    joined: list[str] = []
    for word in words:
        before = joined[-1] if joined else ""
        if re.match(r"-[\d.]", word) and re.fullmatch(r"--[a-z][a-z-]*", before) and "--" not in joined:
            joined[-1] = f"{before}={word}"
        else:
            joined.append(word)
    return joined


def build_parser() -> argparse.ArgumentParser:
    """The parser of the whole command line."""
    parser = argparse.ArgumentParser(
        prog="shopsim",
        description="Works out batch size, clamps and delivery window for furniture made in small batches.",
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"shopsim {VERSION}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True, title="commands")
    added = {}
    for name, (short, long, examples) in COMMANDS.items():
        added[name] = commands.add_parser(
            name,
            help=short,
            description=long,
            epilog=examples,
            formatter_class=argparse.RawDescriptionHelpFormatter,
            allow_abbrev=False,
        )
    for name in ("check", "once", *STUDIES, "times", "log"):
        added[name].add_argument("file", metavar="FILE", help="the scenario, a TOML file")
    added["check"].add_argument("--deep", action="store_true", help="also run it, and check what each run leaves")
    once = added["once"]
    once.add_argument("--likely", action="store_true", help="no luck: every time at its likely value")
    once.add_argument(
        "--replication",
        metavar="N",
        type=whole(0, MAX_COMMAND_REPLICATIONS),
        default=0,
        help="which run of luck, counted from 0 (default 0)",
    )
    for kind in KINDS:
        if kind.command is not None:
            _add_options(added[kind.command.name], kind)
    for name in QUESTIONS:
        added[name].add_argument("--save", metavar="STUDY", type=named, help="keep all runs in this file")
        added[name].add_argument(
            "--from",
            dest="held",
            metavar="STUDY",
            type=named,
            help="use the runs kept in this file, and run only what it lacks",
        )
    added["days"].add_argument("--keep", action="store_true", help="put the plan into FILE, its comments kept")
    added["delivery"].add_argument(
        "--orders", metavar="18 or 5..40", type=orders, help="orders that may come; default those of the file"
    )
    added["delivery"].add_argument(
        "--confidence", metavar="80", type=percent, default=80.0, help="how sure windows shall be, in percent"
    )
    added["delivery"].add_argument(
        "--kept",
        dest="service_level",
        metavar="90",
        type=percent,
        default=90.0,
        help="with what chance a promised date shall be kept, in percent (default 90)",
    )
    _add_delivery(added["delivery"])
    added["schema"].add_argument(
        "--text", action="store_true", help="as a text to read: every key, what it means, its default, and an example"
    )
    added["schema"].add_argument(
        "-o", "--out", metavar="FILE", type=named, help="where to write it; default the screen"
    )
    _add_replace(added["schema"])
    _add_times(added["times"])
    _add_log(added["log"])
    added["app"].add_argument(
        "--port", metavar="8501", type=whole(1024, 65535), help="where it listens; default 8501, or the next free one"
    )
    added["app"].add_argument("--no-browser", action="store_true", help="do not open a browser")
    for name in ("check", "once", *STUDIES, "times"):
        _add_common(added[name], name)
    return parser


def _add_options(parser: argparse.ArgumentParser, kind: Kind) -> None:
    """The options of a question, as its entry has them."""
    groups: dict[str, Any] = {}
    for option in kind.options:
        if option.instead and option.instead not in groups:
            groups[option.instead] = parser.add_mutually_exclusive_group()
        to = groups.get(option.instead, parser)
        if option.kind == SWITCH:
            to.add_argument(option.typed, dest=option.name, action="store_true", help=option.help)
            continue
        read = {
            WHOLES: list_of(option.least, option.most),
            WHOLE: whole(option.least, option.most),
            AMOUNT: amount,
            TEXT: None,
        }[option.kind]
        to.add_argument(option.typed, dest=option.name, metavar=option.example, type=read or str, help=option.help)


def _add_delivery(parser: argparse.ArgumentParser) -> None:
    """The options of ``delivery`` alone, but for ``--orders`` and chances."""
    parser.add_argument(
        "--ship-by",
        metavar="2027-04-30",
        type=day,
        help="at how many orders to close the book, so that all ship by this day",
    )
    parser.add_argument("--cap", metavar="N", type=count, help="most orders that are taken; default the file's run.cap")
    parser.add_argument(
        "--so-far",
        metavar="N",
        type=count,
        help="orders taken so far, where the file states run.demand and names no orders",
    )
    parser.add_argument(
        "--batches-by",
        metavar="WAY",
        type=way,
        help='cut batches by "received" or by "option"; "both" compares them on the same luck',
    )
    parser.add_argument(
        "--words", action="store_true", help="also print words to paste: for the listing, each buyer, and late notes"
    )
    parser.add_argument(
        "--what-moves", action="store_true", help="also say what the last date depends on, and what to time first"
    )
    parser.add_argument(
        "--reason",
        metavar="TEXT",
        action="append",
        help="why orders are late, for the late notes of --words; for one order ORDER=TEXT, again and again",
    )
    parser.add_argument(
        "--no-hours", action="store_true", help="leave the hours a week in the workshop out of the words of --words"
    )
    parser.add_argument(
        "--mix",
        metavar='"6 walnut, 4 plain"',
        help='what orders to come ask for; "3 of 2 walnut" are three orders for two; default the mix of the file of orders',
    )


def _add_times(parser: argparse.ArgumentParser) -> None:
    """The options of ``times`` alone."""
    parser.add_argument(
        "log",
        metavar="LOG.csv",
        nargs="?",
        help="logged task times: run, operation, piece, minutes; or the log of a run; default none",
    )
    parser.add_argument("--days", metavar="DAYS.csv", help="logged days: date, open_share (or interrupted), lost")
    parser.add_argument("--shipped", metavar="SHIPPED.csv", help="orders that have shipped: order, shipped")
    parser.add_argument("--write", action="store_true", help="put what was learned into FILE, its comments kept")
    parser.add_argument(
        "--believe",
        action="store_true",
        help="take in logs that are far from what is believed: they are right as they stand",
    )
    parser.add_argument(
        "--confidence", metavar="80", type=percent, default=80.0, help="how sure the window shall be, in percent"
    )


def _add_log(parser: argparse.ArgumentParser) -> None:
    """The options of ``log`` alone."""
    parser.add_argument("what", metavar="WHAT", nargs="?", help="what happened; default nothing: how the run stands")
    parser.add_argument(
        "name", metavar="NAME", nargs="?", help="the operation, part, order, material, day or row that it happened to"
    )
    for option, example, said in (
        ("batch", "2", "number of the batch"),
        ("pieces", "6-8", "numbers of the pieces, as in every table; in a batch also counted from its first"),
        ("part", "NAME", "the part that was spoiled"),
        ("units", "2", "which of the parts of each piece, counted from 1"),
        ("worker", "NAME", "who did it"),
        ("station", "NAME", "where it was done"),
        ("clamps", '"4 bar clamp"', "clamps it took"),
        ("minutes", "42", "hands-on minutes it took, or minutes by which a day was shortened"),
        ("note", "TEXT", "anything you like"),
    ):
        parser.add_argument(f"--{option}", metavar=example, help=said)
    parser.add_argument("--at", metavar="2027-02-03T21:00", help="when it happened, local time; default now")
    parser.add_argument(
        "--log",
        metavar="LOG.csv",
        type=named,
        help="the log; default my-stools-run-log.csv beside my-stools.toml, or run-log.csv",
    )
    _add_json(parser)
    _add_settings(parser)


def _add_common(parser: argparse.ArgumentParser, command: str) -> None:
    _add_settings(parser)
    parser.add_argument(
        "--seed", metavar="N", type=whole(0, MAX_SEED), default=1, help="which luck; the same seed, the same result"
    )
    if command in ("check", "times", *STUDIES):
        default = "20" if command == "check" else "enough for the answer"
        parser.add_argument(
            "--replications",
            metavar="N",
            type=whole(1, MAX_COMMAND_REPLICATIONS),
            default=20 if command == "check" else None,
            help=f"how many runs with luck (default {default})",
        )
    if command in ("times", *STUDIES):
        parser.add_argument(
            "--jobs",
            metavar="N",
            type=whole(1, MAX_JOBS),
            help="processor cores to use (default all, once the work is worth it)",
        )
        parser.add_argument(
            "--cluster",
            metavar="ADDRESS",
            help="in place of --jobs: make the runs on the Dask cluster whose scheduler is there, like tcp://10.0.0.5:8786",
        )
    if command != "check":
        _add_json(parser)
        parser.add_argument(
            "--out",
            metavar="DIR",
            type=named,
            help="also write every table as CSV, and a report with charts, into this folder",
        )
        _add_replace(parser)


def _add_settings(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--set",
        dest="settings",
        action="append",
        default=[],
        metavar="PLACE=VALUE",
        help="put this value in place of the file's; may be given again and again",
    )


def _add_json(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="print one JSON object instead of text")


def _add_replace(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--replace", action="store_true", help="write over files that shopsim did not write, or that were changed since"
    )
