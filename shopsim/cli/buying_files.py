"""``shopsim buying --out``: the list as XLSX, as a page to print, and its days as entries of a calendar."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from shopsim.answers import Answer
from shopsim.buying_list import BUYING_LIST, format_buying_list
from shopsim.export import file_name, format_workbook
from shopsim.scenario import Scenario


def more_files(answers: Sequence[Answer], scenario: Scenario) -> dict[str, bytes]:
    """The files by their names."""
    from shopsim.calendar_file import ORDER_DAYS, format_order_days  # with what writes calendars

    answer = answers[0]
    return {
        file_name(answer.key, ".xlsx"): format_workbook(answer.titled_tables()),
        BUYING_LIST: format_buying_list(answer.rows, answer.tables, scenario.title, answer.sentence).encode(),
        ORDER_DAYS: format_order_days(answer.rows, scenario.title, dt.datetime.now(dt.UTC)),
    }
