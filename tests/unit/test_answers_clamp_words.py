"""What is said of more clamps agrees with its table: sentences that once did not, and shops at random."""

from __future__ import annotations

import re

from shopsim.answers.alternatives import put_interval
from shopsim.answers.clamp_rows import Row, blank_row, judge_step
from shopsim.answers.clamp_words import NOT, UNSURE, say_clamps, say_free_change
from shopsim.study.intervals import Interval

CALM = 'interrupted = "0 %"\nlost_days = "0 %"\n'
DAILY = '{ mon-sun = "08:00-16:00" }'


def interval(value: float, low: float, high: float) -> Interval:
    return Interval(value, low, high, 0.95)


def step(
    added: int, price: float, to_pay: float, saved: Interval, last: Interval, beyond: Row | None = None,
    gain: Interval | None = None,
) -> Row:  # fmt: skip
    """A row of long clamps, judged as the table judges it."""
    row = blank_row("clamps", "long clamp", "")
    row.update(added=added, step=added, cost=price, days_to_pay=to_pay)
    put_interval(row, "average_saved_days", saved)
    put_interval(row, "last_saved_days", last)
    if saved.low > 0:
        row["cost_a_day"] = price / round(saved.value, 1)
    judge_step(row, beyond or {"added": 0, "days_to_pay": 0.0}, gain or saved)
    return row


SAME = interval(0.0, 0.0, 0.0)


def test_what_may_pay_is_not_told_to_pay_in_its_row() -> None:
    row = step(4, 180, 0.4, interval(0.6, -0.1, 1.3), SAME)
    assert (row["pays"], row["may_pay"]) == (False, True)
    (said,) = say_clamps([row], "", (), 200, False)
    assert said == (
        "Whether more clamps pay cannot be told yet at 200 replications: 4 more long clamps (180) save 0.6 days "
        "(-0.1 to 1.3) and would have to save 0.4."
    )


def test_a_sure_saving_short_of_its_price_is_not_put_down_to_chance() -> None:
    short = step(4, 180, 0.4, interval(0.3, 0.2, 0.38), SAME)
    assert say_clamps([short], "", (), 200, False) == [
        "More clamps do not pay: the best of those tried, 4 more long clamps (180), save 0.3 days (0.2 to 0.4) and would "
        "have to save 0.4."
    ]
    perhaps = step(4, 180, 0.4, interval(0.3, 0.1, 0.5), SAME)
    assert "save 0.3 days (0.1 to 0.5), which is sure, and would have to save 0.4" in " ".join(
        say_clamps([perhaps], "", (), 200, False)
    )


def test_days_price_and_price_a_day_agree_as_printed() -> None:
    row = step(2, 64, 0.2, interval(0.674, 0.3, 1.04), interval(1.0, 0.5, 1.5))
    said = say_clamps([row], "", (), 200, False)[0]
    days, a_day = re.search(r"ships ([\d.]+) days .* \((\d+) for each day", said).groups()  # type: ignore[union-attr]
    assert int(a_day) == round(64 / float(days))


def test_what_a_free_change_costs_the_last_order_is_said() -> None:
    row = {"what": '"nearest done" instead of "glue first" for what comes first'}
    put_interval(row, "average_saved_days", interval(1.4, 0.7, 2.1))
    put_interval(row, "hands_on_saved_h", interval(0.0, -0.1, 0.1))
    put_interval(row, "last_saved_days", interval(-9.0, -11.0, -7.0))
    said = say_free_change(row, NOT)
    assert "for nothing" not in said
    assert "1.4 days (0.7 to 2.1) sooner, but the last one 9.0 days (7.0 to 11.0) later" in said
    put_interval(row, "last_saved_days", interval(-9.0, -19.0, 1.0))
    assert "of the last one it cannot be told: -9.0 (-19.0 to 1.0) days sooner" in say_free_change(row, NOT)


def test_the_cheapest_step_that_pays_is_recommended_and_what_more_adds_is_apart() -> None:
    first = step(4, 180, 0.4, interval(3.5, 2.6, 4.4), interval(4.0, 3.0, 5.0))
    more = step(12, 540, 1.2, interval(4.9, 3.8, 6.0), interval(6.0, 5.0, 7.0), first, interval(1.4, 0.9, 1.9))
    said = " ".join(say_clamps([first, more], "", (), 200, False))
    assert said.startswith("4 more long clamps pay: for 180 the average order ships 3.5 days (2.6 to 4.4) sooner")
    assert "Steps beyond: 12 instead of 4 (540) save another 1.4 days (0.9 to 1.9)." in said
    dear = step(12, 540, 1.2, interval(4.9, 3.8, 6.0), interval(6.0, 5.0, 7.0), first, interval(0.4, 0.1, 0.7))
    assert not dear["pays"]
    assert "Still more does not pay." in " ".join(say_clamps([first, dear], "", (), 200, False))


def test_what_is_recommended_is_not_then_told_to_be_no_different_from_today() -> None:
    row = step(2, 60, 0.2, interval(0.9, 0.5, 1.3), SAME)
    said = " ".join(say_clamps([row], "", (), 200, False))
    assert "2 more long clamps pay" in said
    assert "the clamps you have" not in said
    assert "cannot be told" not in said


def test_where_every_upper_end_is_below_what_pays_they_do_not() -> None:
    rows = [step(n, 43.0 * n, 0.15 * n, interval(0.1 * n, 0.0, 0.14 * n), SAME) for n in (1, 2, 3)]
    (said,) = say_clamps(rows, "", (), 400, False)
    assert said.startswith(NOT)
    assert "3 more long clamps (129), save 0.3 days (0.0 to 0.4)" in said
    assert UNSURE not in said
