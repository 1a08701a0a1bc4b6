"""It holds that more or fewer hours a week come to so many hours, day by day in proportion."""

from __future__ import annotations

from pathlib import Path

import pytest

from shopsim.answers.week import change_week, week_hours
from shopsim.errors import InputError
from shopsim.scenario import Scenario, change_scenario, load_scenario

STOOLS = Path(__file__).resolve().parents[2] / "scenarios" / "counter-stools.toml"


@pytest.fixture(scope="module")
def stools() -> Scenario:
    return load_scenario(STOOLS)


@pytest.mark.parametrize("hours", [5.0, 12.5, 16.0, 20.0, 30.0])
def test_the_week_has_as_many_hours_as_were_asked_for(stools: Scenario, hours: float) -> None:
    assert week_hours(change_scenario(stools, change_week(stools, hours))) == pytest.approx(hours, abs=0.25)


def test_the_hours_of_today_change_nothing(stools: Scenario) -> None:
    assert week_hours(stools) == 15.0
    assert change_week(stools, 15.0) == {}


def test_days_close_later_and_open_earlier_only_where_midnight_is_in_the_way(stools: Scenario) -> None:
    # 16 / 15 of 3.5 h is 3 h 44 min, to five minutes 3 h 45; of 8 h on Saturday 8 h 32, to five minutes 8 h 30
    assert change_week(stools, 16.0)["shop.open"] == {
        "tue": "18:00-21:45", "thu": "18:00-21:45", "sat": "08:30-12:30, 13:30-18:00",
    }  # fmt: skip
    # twice 3.5 h is 7 h: six until midnight, one before 18:00; twice 8 h: 10.5 h from 13:30, 5.5 h before 12:30
    assert change_week(stools, 30.0)["shop.open"]["tue"] == "17:00-24:00"
    assert change_week(stools, 30.0)["shop.open"]["sat"] == "07:00-12:30, 13:30-24:00"


def test_a_shorter_day_ends_earlier(stools: Scenario) -> None:
    # a third of 3.5 h is 70 min; of 8 h 160 min, all before noon
    assert change_week(stools, 5.0)["shop.open"] == {"tue": "18:00-19:10", "thu": "18:00-19:10", "sat": "08:30-11:10"}


def test_own_hours_of_a_worker_change_alike(stools: Scenario) -> None:
    helped = change_scenario(
        stools, {"shop.workers": [{"name": "maker"}, {"name": "helper", "open": {"sat": "09:00-12:00"}}]}
    )
    assert change_week(helped, 20.0)["shop.workers[1].open"] == {"sat": "09:00-13:00"}


def test_more_hours_than_fit_into_the_days_are_refused(stools: Scenario) -> None:
    with pytest.raises(InputError, match="do not fit"):
        change_week(stools, 60.0)


def test_a_shop_that_never_closes_has_no_hours_to_change(stools: Scenario) -> None:
    always = change_scenario(stools, {"shop.open": "always"})
    assert week_hours(always) is None
    with pytest.raises(InputError, match="never closes"):
        change_week(always, 20.0)
