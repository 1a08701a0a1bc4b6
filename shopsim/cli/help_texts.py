"""The help of the commands: what each is for, and examples to copy."""

from __future__ import annotations

from shopsim.questions import KINDS

EXAMPLES = """\
examples:
  shopsim check my-stools.toml               is the file right, and how much work is in it?
  shopsim once my-stools.toml --likely       what to do on which day, if all goes as written
  shopsim decide my-stools.toml              how many to a batch, which clamps, what date to state
  shopsim decide my-stools.toml --set run.batch=3 --out answers

A value in the file can be tried out without changing the file:
  --set run.orders=20      --set 'shop.clamps."bar clamp".count=14'      --set 'shop.lost_days=8 %'

exit codes: 0 done, 2 something in the file or the command is wrong, 3 stopped before the end
"""

_BEFORE: dict[str, tuple[str, str, str]] = {
    "check": (
        "say whether a file is right",
        "Reads the file whole and prints every fault at once, each with its line and what would mend it.",
        """\
examples:
  shopsim check my-stools.toml
  shopsim check my-stools.toml --deep        also runs it, and checks each run against the rules of the shop
""",
    ),
    "once": (
        "run the shop once and print what to do on which day",
        "One run: when each piece is done, then day by day what to do, what goes into clamps and what stays in them.",
        """\
examples:
  shopsim once my-stools.toml --likely       everything takes its likely time and nothing goes wrong
  shopsim once my-stools.toml                one run with luck, good and bad
  shopsim once my-stools.toml --replication 7 --out run-7
""",
    ),
}
_QUESTIONS = {
    kind.command.name: (kind.command.line, kind.command.length, kind.command.examples)
    for kind in KINDS
    if kind.command is not None
}
_AFTER: dict[str, tuple[str, str, str]] = {
    "log": (
        "log what happened in a run that is under way, and see what is next",
        "Adds one row to the log of the run, which stands beside FILE: WHAT happened, to which operation, order or material. "
        "A row that cannot be true is not written. Without WHAT: how the run stands by its log.",
        """\
examples:
  shopsim log my-stools.toml begun "glue side frames" --batch 2 --pieces 6-8
  shopsim log my-stools.toml done "glue side frames" --batch 2 --pieces 6-8 --minutes 24
  shopsim log my-stools.toml "clamps off" "glue side frames" --batch 2
  shopsim log my-stools.toml spoiled "side frame" --pieces 7 --units 2
  shopsim log my-stools.toml shipped 1001
  shopsim log my-stools.toml came "walnut boards" --at 2027-01-19T08:30
  shopsim log my-stools.toml lost 2027-02-04           a day; shortened 2027-02-04 --minutes 45
  shopsim log my-stools.toml back 12                   takes row 12 back: nothing is ever changed
  shopsim log my-stools.toml                           how the run stands

WHAT: begun, paused, done, clamps off, spoiled, shipped, material came, day lost, day shortened, taken back.
""",
    ),
    "times": (
        "see what to time first, and learn from logged times, days and shipped orders",
        "Without a log: what moves the date, and which operations to time first. With logs: what is believed before "
        "and after, and with --write puts what was learned into the file.",
        """\
examples:
  shopsim times my-stools.toml                                   what to time first
  shopsim times my-stools.toml times.csv --days days.csv         what they teach, nothing is changed
  shopsim times my-stools.toml times.csv --days days.csv --write
  shopsim times my-stools.toml my-stools-run-log.csv --write     the log of a run tells of times, days and orders

times.csv begins with run,operation,piece,minutes (or hours, or seconds); days.csv with
date,open_share,lost, where open_share is what was left of the open hours, or with date,interrupted,lost,
where interrupted is what went to other things. A log may grow: rows that were taken in before are not
counted twice. A log that is far from what is believed is not taken in before you have said --believe.
""",
    ),
    "app": (
        "open the app: everything on a screen in your browser, on this computer alone",
        "Starts the app and opens it in your browser; only this computer can reach it, and nothing is sent anywhere. "
        "Stop it with Ctrl-C. Drafts are kept in your own data folder, or where SHOPSIM_APP_FOLDER says.",
        """\
examples:
  shopsim app
  shopsim app --port 8600 --no-browser       then open http://127.0.0.1:8600 yourself
""",
    ),
    "schema": (
        "say what a file may hold: every key as a text to read, or a JSON Schema for editors",
        "With --text: every key of a scenario file, what it means, its default and an example, and the columns of the "
        "CSV files. Without: a JSON Schema, which editors use to complete and to check while you type.",
        """\
examples:
  shopsim schema --text                      every key, what it means, its default, an example
  shopsim schema -o scenario.schema.json
""",
    ),
}

#: For each command what it is for in a line, at length, and examples; those of questions as ``questions.py`` has them.
COMMANDS: dict[str, tuple[str, str, str]] = {**_BEFORE, **_QUESTIONS, **_AFTER}
