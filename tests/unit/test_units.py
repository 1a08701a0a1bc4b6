"""Times, lengths, shares, hours and dates are read as a maker writes them, and printed so that they read back."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopsim import dates, units
from shopsim.units import UnitError


@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        ("12 min", [12.0]),
        ("12min", [12.0]),
        ("  1.5 h ", [90.0]),
        ("3 d", [4320.0]),
        ("2 weeks", [20160.0]),
        ("90 s", [1.5]),
        (".5 Hours", [30.0]),
        ("0 min", [0.0]),
        ("8 / 10 / 16 min", [8.0, 10.0, 16.0]),
        ("45 min / 1 h / 90 min", [45.0, 60.0, 90.0]),
        ("1/2/3 d", [1440.0, 2880.0, 4320.0]),
    ],
)
def test_times_are_read_in_minutes(text: str, minutes: list[float]) -> None:
    assert units.parse_times(text) == minutes


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ("12", '"12" has no unit'),
        ("twelve min", '"twelve min" cannot be read as a time'),
        ("12 furlongs", '"furlongs" in "12 furlongs" is not a unit of time'),
        ("-3 min", '"-3 min" is negative'),
        ("11 years", '"years" in "11 years" is not a unit of time'),
        ("4000 d", '"4000 d" is too large'),
        ("1e999 min", '"1e999 min" is not finite'),
        ("nan min", '"nan min" cannot be read as a time'),
        ("1,5 h", '"1,5 h" cannot be read as a time'),
        ("٣ min", '"٣ min" cannot be read as a time'),
        ("5 min" * 50, "250 characters are too many for a time"),
        (12, "12 is not a time with its unit"),
        (True, "true is not a time with its unit"),
        (None, "None is not a time with its unit"),
        ([5], "a list is not a time with its unit"),
        (dt.time(12, 30), "12:30:00 is not a time with its unit"),
    ],
)
def test_what_is_no_time_is_refused_with_the_value_got_and_a_mend(text: object, rule: str) -> None:
    with pytest.raises(UnitError) as caught:
        units.parse_times(text)
    assert caught.value.rule == rule
    assert caught.value.mend
    assert str(caught.value) == f"{rule} · {caught.value.mend}"


def test_a_number_of_thousands_of_digits_is_refused_like_any_other() -> None:
    with pytest.raises(UnitError, match="a number of too many digits is not a time"):
        units.parse_times(10**5000)


def test_one_time_is_not_three() -> None:
    with pytest.raises(UnitError, match="is 3 numbers where one is wanted"):
        units.parse_minutes("1 / 2 / 3 min")


@pytest.mark.parametrize(
    ("text", "mm"),
    [("24 in", 609.6), ("2 ft", 609.6), ('24"', 609.6), ("600 mm", 600.0), ("60 cm", 600.0), ("0.6 m", 600.0)],
)
def test_lengths_are_read_in_millimetres_and_equal_ones_are_equal(text: str, mm: float) -> None:
    assert units.parse_mm(text) == mm


@pytest.mark.parametrize("text", ["24 min", "24", "1 / 2 in", "200 m", "-1 in"])
def test_what_is_no_length_is_refused(text: str) -> None:
    with pytest.raises(UnitError):
        units.parse_mm(text)


@pytest.mark.parametrize(
    ("text", "share"), [("4 %", 0.04), ("0.5%", 0.005), ("100 %", 1.0), ("57 %", 0.57), ("29 %", 0.29)]
)
def test_shares_are_exactly_what_is_written(text: str, share: float) -> None:
    assert units.parse_share(text) == share


@pytest.mark.parametrize(
    ("text", "rule"),
    [("101 %", '"101 %" is over 100 %'), ("0.2", '"0.2" has no unit'), (0.2, "0.2 is not a share with its unit")],
)
def test_what_is_no_share_is_refused(text: object, rule: str) -> None:
    with pytest.raises(UnitError) as caught:
        units.parse_share(text)
    assert caught.value.rule == rule


@settings(deadline=None)
@given(st.lists(st.floats(0, units.MAX_TIME_MIN), min_size=1, max_size=3))
def test_printed_times_read_back_exactly(minutes: list[float]) -> None:
    assert units.parse_times(units.format_minutes(*minutes)) == minutes


@settings(deadline=None)
@given(st.lists(st.integers(0, 3650 * 24).map(lambda hours: hours * 60.0), min_size=3, max_size=3))
def test_printed_hours_and_days_read_back_exactly(minutes: list[float]) -> None:
    assert units.parse_times(units.format_minutes(*minutes)) == minutes


@settings(deadline=None)
@given(
    st.floats(0, units.MAX_LENGTH_MM).map(lambda mm: round(mm, 6))
    | st.integers(0, 2000).map(lambda quarter: quarter * 6.35)
)
def test_printed_lengths_read_back_exactly(mm: float) -> None:
    read = units.parse_mm(units.format_mm(mm))
    assert read == round(mm, 6)
    assert units.parse_mm(units.format_mm(read)) == read


@settings(deadline=None)
@given(st.lists(st.floats(0, 1), min_size=1, max_size=3))
def test_printed_shares_read_back_exactly(shares: list[float]) -> None:
    assert units.parse_shares(units.format_share(*shares)) == shares


@pytest.mark.parametrize(
    ("minutes", "text"),
    [((90.0,), "90 min"), ((1440.0,), "24 h"), ((2880.0, 5760.0, 11520.0), "2 / 4 / 8 d"), ((0.0,), "0 min"), ((7.5,), "7.5 min")],
)  # fmt: skip
def test_times_are_printed_as_a_maker_would_write_them(minutes: tuple[float, ...], text: str) -> None:
    assert units.format_minutes(*minutes) == text


@pytest.mark.parametrize(("mm", "text"), [(609.6, "24 in"), (600.0, "600 mm"), (6.35, "0.25 in")])
def test_lengths_are_said_in_inches_when_they_come_out_round(mm: float, text: str) -> None:
    assert units.say_mm(mm) == text


@pytest.mark.parametrize(("minutes", "text"), [(45.2, "45 min"), (210.0, "3.5 h"), (2880.0, "2.0 d")])
def test_times_are_said_in_the_unit_that_suits_them(minutes: float, text: str) -> None:
    assert units.say_minutes(minutes) == text


@pytest.mark.parametrize(
    ("text", "stretches"),
    [
        ("08:30-12:30, 13:30-17:30", ((510.0, 750.0), (810.0, 1050.0))),
        ("22:00-02:00", ((1320.0, 1560.0),)),
        ("00:00-24:00", ((0.0, 1440.0),)),
        ("8:00-9:00", ((480.0, 540.0),)),
        ("", ()),
    ],
)
def test_hours_are_read_as_stretches_and_printed_so_that_they_read_back(
    text: str, stretches: tuple[tuple[float, float], ...]
) -> None:
    assert dates.parse_stretches(text) == stretches
    assert dates.parse_stretches(dates.format_stretches(stretches)) == stretches


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ("8-12", '"8" is not a time of day'),
        ("25:00-26:00", '"25:00" is not a time of day'),
        ("08:60-09:00", '"08:60" is not a time of day'),
        ("24:01-25:00", '"24:01" is not a time of day'),
        ("08:00", '"08:00" cannot be read as hours'),
        ("08:00-08:00", '"08:00-08:00" is no time at all'),
        ("08:00-12:00, 11:00-13:00", 'the hours in "08:00-12:00, 11:00-13:00" overlap'),
        ("13:00-14:00, 08:00-09:00", 'the hours in "13:00-14:00, 08:00-09:00" overlap'),
        (8, "8 is not a stretch of hours"),
    ],
)
def test_hours_that_cannot_be_are_refused(text: object, rule: str) -> None:
    with pytest.raises(UnitError) as caught:
        dates.parse_stretches(text)
    assert caught.value.rule == rule


@pytest.mark.parametrize(
    ("value", "rule"),
    [
        ("2027-02-30", '"2027-02-30" is not in the calendar'),
        ("8.1.2027", '"8.1.2027" is not a date'),
        ("20270108", '"20270108" is not a date'),
        (dt.datetime(2027, 1, 8, 12), "2027-01-08 12:00:00 has a time of day"),
        (dt.date(1066, 10, 14), "1066-10-14 is too far away"),
        (20270108, "20270108 is not a date"),
    ],
)
def test_what_is_no_date_is_refused(value: object, rule: str) -> None:
    with pytest.raises(UnitError) as caught:
        dates.parse_date(value)
    assert caught.value.rule == rule


def test_dates_and_minutes_are_two_ways_to_say_the_same() -> None:
    day0 = dt.date(2027, 1, 11)
    assert dates.parse_date(" 2027-01-11 ") == dates.parse_date(day0) == day0
    assert dates.minutes_at(dt.date(2027, 1, 13), day0) == 2880.0
    assert dates.moment(2880.5, day0) == dt.datetime(2027, 1, 13, 0, 0, 30)
    assert [dates.day_number(minutes) for minutes in (0.0, 1439.9, 1440.0, -0.1)] == [0, 0, 1, -1]


@settings(deadline=None)
@given(st.floats(0, 1e7))
def test_moments_of_the_grid_are_near_and_exact_in_sums(minutes: float) -> None:
    moment = units.to_tick(minutes)
    assert abs(moment - minutes) <= units.TICK_MIN / 2
    assert units.to_tick(moment) == moment
    assert (moment + units.to_tick(0.1)) - moment == units.to_tick(0.1)


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("plain", "plain"),
        ("a\x1b[31mb", "a\\x1b[31mb"),
        ("two\nlines\ttab", "two lines tab"),
        ("\u202eright to left", "\\u202eright to left"),
        ("x" * 700, "x" * 599 + "…"),
        ("grün · 木", "grün · 木"),
    ],
)
def test_text_of_a_file_is_made_safe_to_print(text: str, shown: str) -> None:
    assert units.clean(text) == shown
    assert units.clean(text).isprintable()
