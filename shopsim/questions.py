"""Every question that can be asked: its command, its options, its page, its charts, what to ask next, and where it is worked out.

One entry a question. The command line, the app and the report take it from here; ``answers/question.py`` says how it is asked.
Nothing is loaded for it: homes are named.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from typing import Any

#: Kinds of value that an option takes: whole numbers, one whole number, a number above 0, a switch, a text.
WHOLES, WHOLE, AMOUNT, SWITCH, TEXT = "whole numbers", "whole number", "amount", "switch", "text"


@dataclass(frozen=True)
class QuestionOption:
    """What can be said of a question beside its scenario.

    ``name``: of the argument of the question; ``kind``: of its value; ``help``: for the command line; ``flag``: as it is typed
    there, default the name with hyphens; ``example``: a value; ``least``, ``most``: of whole numbers; ``label``: of its control
    on a page that is drawn from this entry, none where it is not offered there; ``instead``: options of one name exclude each other.
    """

    name: str
    kind: str
    help: str
    flag: str = ""
    example: str = ""
    least: int = 1
    most: int = 100_000
    label: str = ""
    instead: str = ""

    @property
    def typed(self) -> str:
        """How it is typed: ``--matters``."""
        return self.flag or f"--{self.name.replace('_', '-')}"


@dataclass(frozen=True)
class Command:
    """A command of the command line: ``name``, what it is for in a ``line`` and at ``length``, and ``examples`` to copy."""

    name: str
    line: str
    length: str
    examples: str


@dataclass(frozen=True)
class Chart:
    """A figure that goes with an answer. ``home``: module and function of the charts, which takes a table and the name of a theme
    and gives a figure, or None where there is nothing to draw; ``table``: the key of a further table, "" for the answer's rows."""

    home: str
    table: str = ""


@dataclass(frozen=True)
class Kind:
    """A question. ``key``: that of its answer; ``home``: module and name of what makes the question of a scenario and options.

    ``page``: its page of the app (a module in ``app/pages``, its name with ``_page`` behind it, or one that is drawn from this entry), ``page_title``: for its menu.
    ``shown``: columns of the table that a screen shows, all where none are named; ``next_pages``: pages of the app that go on
    from the answer, with what is asked there. ``several``: its answer is several answers.
    """

    key: str
    home: str
    command: Command | None = None
    options: tuple[QuestionOption, ...] = ()
    page: str = ""
    page_title: str = ""
    charts: tuple[Chart, ...] = ()
    shown: tuple[str, ...] = ()
    next_pages: tuple[tuple[str, str], ...] = ()
    several: bool = False

    @property
    def make(self) -> Callable[..., Any]:
        """What makes the question; loads its module."""
        return load(f"shopsim.answers.{self.home}")


def load(home: str) -> Callable[..., Any]:
    """What stands at a module and name, written as one."""
    module, _, name = home.rpartition(".")
    found: Callable[..., Any] = getattr(import_module(module), name)
    return found


_MATTERS = QuestionOption(
    "matters_days", AMOUNT, "smallest difference that matters, in days: runs go on until no more is left (default 0.25)",
    flag="--matters", example="0.25",
)  # fmt: skip

KINDS: tuple[Kind, ...] = (
    Kind(
        "decide",
        "decide.Decide",
        Command(
            "decide",
            "answer all three questions: batch size, clamps, delivery window",
            "Compares batch sizes, compares more clamps, and works out the days on which orders ship.",
            """\
examples:
  shopsim decide my-stools.toml
  shopsim decide my-stools.toml --replications 400 --out answers
""",
        ),
        several=True,
    ),
    Kind(
        "batch_size",
        "batch_size.BatchSizes",
        Command(
            "batches",
            "compare numbers of pieces to a batch",
            "Runs the same orders in batches of each size, on the same luck.",
            """\
examples:
  shopsim batches my-stools.toml
  shopsim batches my-stools.toml --sizes 2,5,10,20
  shopsim batches my-stools.toml --priority all            every size under every priority rule
  shopsim batches my-stools.toml --matters 0.1             runs on until no more than a tenth of a day is left open
  shopsim batches my-stools.toml --save stools.study       keeps the runs; --from stools.study goes on with them
""",
        ),
        (
            QuestionOption(
                "sizes", WHOLES, "pieces to a batch; default today's, what divides the run, and smaller",
                example="5,10,20", most=10_000,
            ),
            QuestionOption(
                "priority_rules", TEXT,
                'what comes first: "all", or priority rules with commas between them, each size under each; default the file\'s',
                flag="--priority", example="NAME",
            ),
            _MATTERS,
        ),
        page="batches",
        page_title="Batch size",
        charts=(Chart("batches_chart.build_lead_times", "lead_time_by_order"),),
    ),
    Kind(
        "more_clamps",
        "clamps_plan.MoreClamps",
        Command(
            "clamps",
            "see what more clamps would save",
            "Runs the same orders with what costs nothing, with more clamps of each kind, and with one more of "
            "everything else, on the same luck.",
            """\
examples:
  shopsim clamps my-stools.toml
  shopsim clamps my-stools.toml --kind "bar clamp" --add 0,4,8,12
  shopsim clamps my-stools.toml --worth-days 0.05          each clamp is to save a twentieth of a day
  shopsim clamps my-stools.toml --worth-money 40           a day sooner is worth 40, against the prices in the file
""",
        ),
        (
            QuestionOption("kinds", TEXT, "only this kind of clamp; default every kind", flag="--kind", example="NAME"),
            QuestionOption(
                "add", WHOLES, "how many to add; default in steps of what one glue-up takes", example="0,4,8", least=0,
                most=10_000,
            ),
            QuestionOption(
                "threshold", AMOUNT, "a clamp pays while it saves so many days (default 0.1)", flag="--worth-days",
                example="0.1", instead="worth",
            ),
            QuestionOption(
                "day_worth", AMOUNT, "what a day sooner is worth, in the money of the prices", flag="--worth-money",
                example="40", instead="worth",
            ),
            _MATTERS,
        ),
        page="clamps",
        page_title="Clamps",
        charts=(Chart("savings_chart.build_clamps"), Chart("savings_chart.build_beside_clamps")),
    ),
    Kind(
        "delivery_window",
        "delivery.delivery_question",
        Command(
            "delivery",
            "work out the days on which orders ship, and the date to state",
            "For each order: the window in which it ships, the date to promise, and the chance that it is kept.",
            """\
examples:
  shopsim delivery my-stools.toml
  shopsim delivery my-stools.toml --confidence 90          wider windows; --kept 95: safer promises
  shopsim delivery my-stools.toml --orders 5..40           before orders close: for each number that may come
  shopsim delivery my-stools.toml --ship-by 2027-04-30     at how many orders to close the book
  shopsim delivery my-stools.toml --words                  words for the listing and for each buyer
  shopsim delivery my-stools.toml --what-moves             what the date depends on, what to time first
  shopsim delivery my-stools.toml --batches-by both        batches as ordered, or each of one option
  shopsim delivery my-stools.toml --out sheet              the promise sheet, as CSV and as a spreadsheet
""",
        ),
        page="delivery",
        page_title="Delivery",
        charts=(Chart("delivery_chart.build_delivery"),),
        next_pages=(("times", "What would make the window narrower?"),),
    ),
    Kind(
        "delivery_window_by_number_of_orders",
        "delivery.delivery_question",
        charts=(Chart("delivery_chart.build_order_counts"),),
        next_pages=(("times", "What would make the window narrower?"),),
    ),
    Kind(
        "delivery_window_while_orders_are_open",
        "delivery.delivery_question",
        next_pages=(("times", "What would make the window narrower?"),),
    ),
    Kind(
        "what_holds_the_run_back",
        "holdups.Holdups",
        Command(
            "holdups",
            "see what really holds the run back",
            "Tries what costs nothing and one more of everything, each by itself on the same luck, and adds up where the time goes.",
            """\
examples:
  shopsim holdups my-stools.toml
  shopsim holdups my-stools.toml --accounted 100 --out holdups
""",
        ),
        (
            QuestionOption(
                "accounted", WHOLE, "of how many runs the time is added up (default 20; fewer in very large runs)", example="20",
            ),
        ),
        page="holdups",
        page_title="What holds the run back",
        charts=(Chart("savings_chart.build_holdups"), Chart("waiting_chart.build_waiting_by_piece", "time_by_piece")),
    ),
    Kind(
        "the_days",
        "plan_of_days.Days",
        Command(
            "days",
            "search a better plan, and see what to do on which day",
            "Searches an order of operations and batches that is better than every named priority rule, and lays out its days: "
            "work, glue-ups in rounds, what stays overnight, what does not fit.",
            """\
examples:
  shopsim days my-stools.toml
  shopsim days my-stools.toml --wish last --time 60        what is to be early, and how long may be searched
  shopsim days my-stools.toml --keep                       puts the plan into the file, to be changed by hand
  shopsim days my-stools.toml --as-it-is                   the days under the file's own rule or plan, without a search
""",
        ),
        (
            QuestionOption(
                "wish", TEXT, 'what the plan is for: "average" ship day (the default), "last" ship day, or "idle" hours',
                example="average", label="Wish: average, last or idle",
            ),
            QuestionOption(
                "seconds", AMOUNT, "seconds that the search may take (default 10)", flag="--time", example="10",
                label="Seconds to search",
            ),
            QuestionOption(
                "as_it_is", SWITCH, "no search: the days under the file's own priority rule or plan",
                label="As the file stands, without a search",
            ),
        ),
        page="days",
        page_title="The days",
        charts=(
            Chart("weeks_chart.build_weeks", "weeks_at_a_glance"),
            Chart("clamp_board_chart.build_clamp_board", "clamp_board"),
        ),
        next_pages=(("delivery", "Which date to promise?"), ("clamps", "Would more clamps help?")),
    ),
    Kind(
        "forecast_from_now",
        "from_now.FromNow",
        Command(
            "now",
            "forecast a run that is under way, from what its log says",
            "For each promise the chance that it is kept: at the outset, last time, and now; then what is next on the bench.",
            """\
examples:
  shopsim now my-stools.toml                               by the clock, from my-stools-run-log.csv or run-log.csv beside it
  shopsim now my-stools.toml --at 2027-02-03T21:00         as things stood then
  shopsim now my-stools.toml --log other-log.csv --out now
""",
        ),
        (
            QuestionOption(
                "at", TEXT, "moment of the forecast, local time; default the clock, or the last row of the log if that is later",
                example="2027-02-03T21:00",
            ),
            QuestionOption(
                "log", TEXT, "the log of the run; default my-stools-run-log.csv beside my-stools.toml, or run-log.csv",
                example="LOG.csv",
            ),
            QuestionOption("believe", SWITCH, "the log is right although it is far from what is believed"),
        ),
        shown=(
            "order", "design", "quantity", "option", "due", "stands", "chance_then", "chance_last", "chance_now", "shipped",
            "expected", "ship_from", "ship_to", "promise",
        ),
        page="now",
        page_title="Now",
        next_pages=(("days", "What to do on which day"),),
    ),
    Kind(
        "what_it_would_take",
        "reach.Reach",
        Command(
            "reach",
            "say what it would take to have all orders out by a day",
            "Tries what could be changed, alone and in sets of up to three, and lists the smallest sets that reach the day.",
            """\
examples:
  shopsim reach my-stools.toml --by 2027-04-30 --chance 90
  shopsim reach my-stools.toml --by 2027-04-30 --order 1004        one order alone
  shopsim reach my-stools.toml --by 2027-04-30 --lock orders,helper --budget 200
""",
        ),
        (
            QuestionOption("by", TEXT, "the day by which it is to be out; default the file's run.promised", example="2027-04-30"),
            QuestionOption("chance", AMOUNT, "with what chance, in percent (default 90)", example="90"),
            QuestionOption("order", TEXT, "one order by its id; default all of them", example="ORDER"),
            QuestionOption(
                "lock", TEXT, "sorts of levers to leave alone, with commas between: priority rule, room, batch size, material, way, orders, hours, "
                "clamps, station, rack, helper", example="hours,helper",
            ),
            QuestionOption("budget", AMOUNT, "the most that what has a known price may cost together", example="200"),
            QuestionOption("seconds", AMOUNT, "seconds that it may take (default 120)", flag="--time", example="120"),
        ),
        page="reach",
        page_title="What it would take",
        charts=(Chart("reach_chart.build_frontier", "chance_by_day"),),
        shown=("what", "stands", "reach_chance", "reach_chance_least", "reach_chance_most", "expected", "reached_by", "cost", "asks"),
    ),
    Kind(
        "ways_of_making_it",
        "ways_compared.WaysCompared",
        Command(
            "ways",
            "compare other ways of making it: a jig, another glue, parts finished first",
            "Runs the same orders with each way of [[design.ways]], on the same luck; and from how many pieces on each pays.",
            """\
examples:
  shopsim ways my-stools.toml
  shopsim ways my-stools.toml --together "drilling jig + slow glue"
  shopsim ways my-stools.toml --set 'run.ways=["drilling jig"]'    with the jig in use, and what it would be without
""",
        ),
        (
            QuestionOption(
                "together", TEXT, 'ways to try at once, "A + B", several sets with ; between them; default all that are not in use, if few',
                example="A + B", label="Ways to try at once",
            ),
        ),
        page="ways",
        page_title="Ways of making it",
    ),
    Kind(
        "what_to_buy",
        "buying.Buying",
        Command(
            "buying",
            "list what to buy, how much of it, and by which day to order it",
            "Adds up boards and goods with what is lost of them, cuts boards on paper where lengths are sold, and finds from simulated "
            "runs the last day on which to order each material so that it holds nothing back.",
            """\
examples:
  shopsim buying my-stools.toml
  shopsim buying my-stools.toml --sure 95                  amounts and days that are enough in 95 % of runs
  shopsim buying my-stools.toml --out buying               as CSV and XLSX, as a list to print, and for the calendar
""",
        ),
        (
            QuestionOption(
                "sure", AMOUNT, "with what chance amounts are enough and nothing is held back, in percent (default 90)",
                example="90", label="Sure, in percent",
            ),
        ),
        page="buying",
        page_title="What to buy",
        next_pages=(("worth", "What is left for an hour?"),),
    ),
    Kind(
        "what_is_left",
        "worth.Worth",
        Command(
            "worth",
            "see what is left for an hour worked, and what would change it",
            "Adds up what the orders bring and what the run costs, over luck: what is left for an hour, from how many orders on it pays, "
            "what other batches, clamps, hours and prices would change, and cash by week. Sums in your own money; no tax advice.",
            """\
examples:
  shopsim worth my-stools.toml
  shopsim worth my-stools.toml --orders 12,16,18,20,24     these numbers of orders, beside today's
  shopsim worth my-stools.toml --set design.price=560      at another price, without changing the file
""",
        ),
        (
            QuestionOption(
                "orders", WHOLES, "numbers of orders to try; default some sixteen up to twice today's", example="12,16,18",
                most=10_000, label="Numbers of orders",
            ),
        ),
        shown=(
            "orders", "is_now", "pieces_made", "spare", "revenue", "cost_of_all", "left", "own_hours", "left_an_hour_p10",
            "left_an_hour_p50", "left_an_hour_p90", "wage_chance", "spare_cost",
        ),
        page="worth",
        page_title="What is left",
        charts=(Chart("money_chart.build_left_an_hour"), Chart("money_chart.build_cash", "cash_by_week")),
        next_pages=(("buying", "What to buy by when?"),),
    ),
    Kind("batches_by_order_received_or_by_option", "batches_by.BatchesBy"),
    Kind(
        "one_run", "one_run.OneRun", page="one_run", page_title="One run in detail",
        next_pages=(("delivery", "Which date to promise?"),),
    ),
    Kind("what_moves_the_date", "what_moves.WhatMoves", page="times", page_title="What to time, and logs"),
    Kind("what_the_logs_teach", "learning.LessonOfLogs"),
)  # fmt: skip


def find_kind(key: str) -> Kind | None:
    """The question whose answer has this key; None where there is none."""
    return next((kind for kind in KINDS if kind.key == key), None)


def find_command(name: str) -> Kind:
    """The question of a command."""
    return next(kind for kind in KINDS if kind.command is not None and kind.command.name == name)
