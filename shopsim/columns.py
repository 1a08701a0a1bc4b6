"""Every column of every table: its key, which stays; its title for people; its unit; and what kind of value stands in it.

A key means one thing in all tables. What is said of a value (a chance is cut, a share rounded, minutes are whole) follows
from its column, never from how its name ends.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

#: Kinds of value. A chance is in 0..1 and never said to be better than it is; a share is one of something that is
#: measured; a label is a name, or a number that only names; a date is a day, as such or as ISO text.
CHANCE, SHARE, NUMBER, COUNT, LABEL, TEXT, DATE, MOMENT, YES_NO = (
    "chance", "share", "number", "count", "label", "text", "date", "moment", "yes or no",
)  # fmt: skip
#: What stands at the end of the key of an estimate for the ends of its interval, and for whether it rests on no
#: difference at all.
LOW, HIGH, UNSEEN = "_low", "_high", "_unseen"
#: What stands at the end of the key of a measure for points of its spread over the replications.
POINTS = ("_p10", "_p50", "_p90")


@dataclass(frozen=True)
class Column:
    """One column. ``key``: stable, in CSV and JSON. ``title``: for people. ``unit``: of its values, "" for none.

    ``kind``: of its values, one of the kinds above, "" where nothing is known of it.
    """

    key: str
    title: str
    unit: str = ""
    kind: str = ""

    @property
    def heading(self) -> str:
        """Title and unit: ``lead, days``."""
        return f"{self.title}, {self.unit}" if self.unit else self.title


@dataclass(frozen=True)
class Table:
    """One table of an answer. ``key``: stable, in JSON and in the names of files. ``title``: for people."""

    key: str
    title: str


def _columns(kind: str, unit: str, keys: str) -> Iterator[Column]:
    """Columns of one kind and unit; their titles are their keys in words, without the unit."""
    for key in keys.split():
        yield Column(key, _words(key, unit), unit, kind)


def _words(key: str, unit: str) -> str:
    words = key.split("_")
    return " ".join(words[:-1] if len(words) > 1 and words[-1] == unit else words)


def _estimates(unit: str, keys: str) -> Iterator[Column]:
    """Estimates, each with the ends of its interval and whether it is of a difference that no run showed."""
    for column in _columns(NUMBER, unit, keys):
        yield column
        for end in (LOW, HIGH):
            yield replace(column, key=column.key + end, title=column.title + end.replace("_", " "))
        yield Column(column.key + UNSEEN, f"{column.title} unseen", "", YES_NO)


def _measures(unit: str, keys: str) -> Iterator[Column]:
    """Means over the replications, each with points of its spread."""
    for column in _columns(NUMBER, unit, keys):
        yield column
        yield from (replace(column, key=column.key + point, title=f"{column.title} {point[2:]} %") for point in POINTS)


_COLUMNS: tuple[Column, ...] = (
    *_columns(
        CHANCE, "", "chance_kept chance_kept_low chance_kept_then chance_comes window_chance all_chance each_chance all_chance_each "
        "reach_chance reach_chance_least reach_chance_most all_kept_chance ship_by_chance told_chance arrive_chance arrival_chance chance_then chance_last chance_now",
    ),
    *_columns(SHARE, "", "above_bound_share too_long_share share share_error explained_share open_share gain"),
    *_columns(
        DATE, "", "reached_by date day expected ship_from ship_to ships ships_from ships_to promise promise_low promise_high "
        "all_kept told last arrive_from arrive_to arrive_promise arrive_all arrives_from arrives_to arrives_by due shipped",
    ),
    *_columns(
        MOMENT, "", "off_from off_until since opened done ready start end from until in_clamps_until unclamp_start",
    ),
    *_columns(
        COUNT, "", "round glue_ups taken ships_pieces position quantity number runs orders pieces_in_batch batches spare so_far least_orders likely_orders "
        "most_orders count replications levers levers_tried sets_run sets_reach sets_about left_by_bound left_as_held fell_short left_by_limit impossible pieces_tried pays_from pays_from_low pays_from_high added owned tried step beyond tasks units redone_units in_use time_first logged",
    ),
    # days counted from the day on which orders close
    *_columns(COUNT, "", "expected_day ship_from_day ship_to_day promise_day all_kept_day arrive_promise_day"),
    *_columns(COUNT, "days", "room_days window_days window_then_days window_together_days"),
    *_columns(NUMBER, "days", "window_then_error_days"),
    *_columns(
        YES_NO, "", "is_asked is_told is_chosen is_likely waited all_out is_now is_sure is_worse pays may_pay may_be_best keeps to_come",
    ),
    *_columns(
        LABEL, "", "batch batches_by piece task unit order design option options destination priority under thing kind name "
        "what against ways ways_in_use part detail operation operations station worker rack clamps said pieces measure do begin_at state stands caution late",
    ),
    *_columns(TEXT, "", "asks changes mend bound_by not_before remark best over text promised waited_for carries suggests"),
    *_measures("", "first_ship_day average_ship_day last_ship_day"),
    *_measures("", "hands_on_h_a_piece"),
    *_measures("days", "lead_days"),
    *_columns(NUMBER, "h", "setup_h idle_h hands_on_h open_h"),
    *_columns(NUMBER, "min", "open_time_min"),
    *_columns(NUMBER, "days", "likely_end_days bound_days"),
    *_columns(NUMBER, "", "hours open_hours most_clamps most_pieces pieces_open minutes days"),
    *_columns(NUMBER, "min", "work_min setup_min hands_on_min unclamp_min elapsed_min"),
    *_columns(NUMBER, "days", "best_so_far_days gain_a_clamp_days days_to_pay gain_to_pay_days waited_days elapsed_days"),
    *_estimates("days", "first_saved_days average_saved_days last_saved_days step_saved_days gain_days"),
    *_estimates("h", "hands_on_saved_h setup_saved_h idle_saved_h"),
    *_columns(NUMBER, "", "cost cost_a_day matters"),
    # what is bought: amounts in the unit of their row, money in that of the file
    *_columns(CHANCE, "", "in_time_chance ordered_chance"),
    *_columns(DATE, "", "order_by ordered week_of"),
    *_columns(CHANCE, "", "wage_chance"),
    *_columns(COUNT, "", "pieces_made"),
    *_columns(YES_NO, "", "breaks_even pays_wage"),
    *_measures("", "left left_an_hour cash"),
    *_estimates("", "left_more left_an_hour_more"),
    *_columns(NUMBER, "", "revenue cost_of_all own_hours spare_cost cost_a_piece cost_a_piece_ordered"),
    *_columns(NUMBER, "", "deposits balances purchases other cash_lowest"),
    *_columns(NUMBER, "", "net buy_low buy_likely buy_high buy_sure in_stock to_buy price net_board_feet"),
    *_columns(NUMBER, "m3", "net_m3 finished_m3"),
    Column("spare_amount", "spare", "", NUMBER),
    *_columns(SHARE, "", "waste_likely_share"),
    *_columns(LABEL, "", "material rough unit is_proven size length cuts left"),
    # what logs teach: the unit of each row stands in its column "unit"
    *_columns(NUMBER, "", "before before_low before_high after after_low after_high"),
)  # fmt: skip

#: Every column by its key. Keys of one thing among several have its name after a colon: ``most_clamps: bar clamp``.
COLUMNS: dict[str, Column] = {column.key: column for column in _COLUMNS}

#: Every table of every answer by its key.
TABLES: dict[str, Table] = {
    key: Table(key, title)
    for key, title in (
        ("batch_size", "Batch size"),
        ("lead_time_by_order", "Lead time by order"),
        ("best_for_each_wish", "Best for each wish"),
        ("batches_by_order_received_or_by_option", "Batches by order received or by option"),
        ("what_costs_nothing", "What costs nothing"),
        ("what_it_would_take", "What it would take"),
        ("chance_by_day", "Chance by day"),
        ("what_was_searched", "What was searched"),
        ("ways_of_making_it", "Ways of making it"),
        ("ways_against_each_other", "Ways against each other"),
        ("from_how_many_pieces_on", "From how many pieces on it pays"),
        ("more_clamps", "More clamps"),
        ("steps_beyond_those_that_pay", "Steps beyond those that pay"),
        ("clamps_that_were_asked_for", "Clamps that were asked for"),
        ("what_holds_the_run_back", "What holds the run back"),
        ("where_the_time_of_a_piece_goes", "Where the time of a piece goes"),
        ("where_the_time_of_the_run_goes", "Where the time of the run goes"),
        ("time_by_batch", "Time by batch"),
        ("time_by_piece", "Time by piece"),
        ("time_by_operation", "Time by operation"),
        ("delivery_window", "Delivery window"),
        ("all_orders_together", "All orders together"),
        ("promise_sheet", "Promise sheet"),
        ("words_to_use", "Words to use"),
        ("delivery_window_by_number_of_orders", "Delivery window by number of orders"),
        ("by_place_in_the_queue", "By place in the queue"),
        ("delivery_window_while_orders_are_open", "Delivery window while orders are open"),
        ("all_buyers_together", "All buyers together"),
        ("the_days", "The days"),
        ("plans_compared", "Plans compared"),
        ("lines_of_the_plan", "Lines of the plan"),
        ("rounds_of_glue_ups", "Rounds of glue-ups"),
        ("clamp_board", "Clamp board"),
        ("overnight", "Overnight"),
        ("does_not_fit_that_day", "Does not fit that day"),
        ("working_time_of_glue", "Working time of glue"),
        ("weeks_at_a_glance", "Weeks at a glance"),
        ("what_moves_the_date", "What moves the date"),
        ("what_the_logs_teach", "What the logs teach"),
        ("forecast_from_now", "Forecast from now"),
        ("how_the_run_stands", "How the run stands"),
        ("next_on_the_bench", "Next on the bench"),
        ("under_way", "Under way"),
        ("notes_to_buyers", "Notes to buyers"),
        ("what_to_buy", "What to buy"),
        ("what_is_left", "What is left"),
        ("cost_of_a_piece", "Cost of a piece"),
        ("what_would_change_it", "What would change it"),
        ("cash_by_week", "Cash by week"),
        ("ordering_earlier_or_later", "Ordering earlier or later"),
        ("parts_to_cut", "Parts to cut"),
        ("cutting_list", "Cutting list"),
    )
}


def estimate_keys(key: str) -> tuple[str, str, str, str]:
    """The keys of an estimate, of the ends of its interval, and of whether no run showed a difference."""
    return key, key + LOW, key + HIGH, key + UNSEEN


def find_table(key: str) -> Table:
    """The table of this key; titled by the key in words where no other title is set."""
    return TABLES.get(key) or Table(key, key.replace("_", " ").capitalize())


def find_column(key: str) -> Column:
    """The column of this key; one of no known kind, titled by the key in words, where there is none."""
    column = COLUMNS.get(key)
    if column is not None:
        return column
    stem, mark, name = key.partition(": ")
    if mark and stem in COLUMNS:
        return replace(COLUMNS[stem], key=key, title=f"{COLUMNS[stem].title}: {name}")
    return Column(key, key.replace("_", " "))


def columns_of(keys: Iterable[object]) -> list[Column]:
    """The columns of a table, in order; ``keys``: the names of its columns."""
    return [find_column(str(key)) for key in keys]
