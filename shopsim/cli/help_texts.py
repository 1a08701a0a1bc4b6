"""The help of the commands: what each is for, and examples to copy."""

from __future__ import annotations

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

COMMANDS: dict[str, tuple[str, str, str]] = {
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
    "decide": (
        "answer all three questions: batch size, clamps, delivery window",
        "Compares batch sizes, compares more clamps, and works out the days on which orders ship.",
        """\
examples:
  shopsim decide my-stools.toml
  shopsim decide my-stools.toml --replications 400 --out answers
""",
    ),
    "batches": (
        "compare numbers of pieces to a batch",
        "Runs the same orders in batches of each size, on the same luck.",
        """\
examples:
  shopsim batches my-stools.toml
  shopsim batches my-stools.toml --sizes 2,5,10,20
  shopsim batches my-stools.toml --priority all            every size under every priority rule
  shopsim batches my-stools.toml --until-sure              runs on until the best is sure
  shopsim batches my-stools.toml --save stools.study       keeps the runs; --from stools.study goes on with them
""",
    ),
    "clamps": (
        "see what more clamps would save",
        "Runs the same orders with more clamps of each kind, with another priority rule, and with one more of "
        "everything else, on the same luck.",
        """\
examples:
  shopsim clamps my-stools.toml
  shopsim clamps my-stools.toml --kind "bar clamp" --add 0,4,8,12
  shopsim clamps my-stools.toml --worth-days 0.05          each clamp is to save a twentieth of a day
  shopsim clamps my-stools.toml --worth-money 40           a day sooner is worth 40, against the prices in the file
""",
    ),
    "holdups": (
        "see what really holds the run back",
        "Tries one more of everything, each by itself on the same luck, and adds up where the time goes.",
        """\
examples:
  shopsim holdups my-stools.toml
  shopsim holdups my-stools.toml --accounted 100 --out holdups
""",
    ),
    "delivery": (
        "work out the days on which orders ship, and the date to state",
        "For each order: the window in which it ships, the date to promise, and the chance that it is kept.",
        """\
examples:
  shopsim delivery my-stools.toml
  shopsim delivery my-stools.toml --confidence 90          wider windows; --kept 95: safer promises
  shopsim delivery my-stools.toml --orders 5..40           before orders close: for each number that may come
  shopsim delivery my-stools.toml --keep 2027-04-30        at how many orders to close the book
  shopsim delivery my-stools.toml --words                  words for the listing and for each buyer
  shopsim delivery my-stools.toml --what-moves             what the date depends on, what to time first
  shopsim delivery my-stools.toml --batches-by both        batches as ordered, or each of one option
  shopsim delivery my-stools.toml --out sheet              the promise sheet, as CSV and as a spreadsheet
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
