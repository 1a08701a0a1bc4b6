"""Letters: a reason only for orders it is true of, what-ifs marked, hours left out, only real closing dates."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from shopsim.answers import forecast_delivery, write_words
from shopsim.scenario import Scenario, parse_scenario

CALM = 'interrupted = "0 %"\nlost_days = "0 %"\n'
WALNUT = '[[materials]]\nname = "walnut boards"\nneeded_by = ["make"]\nlead = "9 d"\n\n[[design.options]]\nname = "walnut"\nmaterials = ["walnut boards"]\n'
BOOK = "id,date,option,promised\nA,2027-01-04,walnut,2027-01-11\nB,2027-01-05,,2027-01-08\nC,2027-01-06,,\n"


@pytest.fixture
def shop(write_shop: Callable[..., str], tmp_path: Path) -> Scenario:
    (tmp_path / "orders.csv").write_text(BOOK)
    text = write_shop('{ name = "make", work = "8 h" }', shop=CALM, run='orders = "orders.csv"\nbatch = 1', open='{ mon-sun = "08:00-16:00" }')  # fmt: skip
    return parse_scenario(text.replace("[run]", f"{WALNUT}\n[run]"), folder=tmp_path)


def notes_of(scenario: Scenario, reason: str | dict[str, str] | None) -> dict[str, str]:
    words = write_words(scenario, forecast_delivery(scenario, replications=20), reason=reason)
    return {row.order: row.text for row in words.itertuples() if row.kind == "late note"}


def test_late_walnut_is_told_only_to_those_who_wait_for_it(shop: Scenario) -> None:
    told = notes_of(shop, "the walnut came late")
    assert list(told) == ["A", "B"]
    assert "The reason: the walnut came late. You" in told["A"]
    assert "walnut" not in told["B"]
    own = notes_of(shop, None)
    assert "I have to wait for the walnut boards" in own["A"]
    assert "walnut" not in own["B"]
    assert all("The reason: my saw broke." in text for text in notes_of(shop, "my saw broke").values())
    one = notes_of(shop, {"B": "my saw broke"})
    assert "my saw broke" in one["B"]
    assert "my saw broke" not in one["A"]


def test_words_under_a_what_if_say_so_and_hours_can_be_left_out(shop: Scenario) -> None:
    answer = forecast_delivery(shop, replications=20)
    plain = write_words(shop, answer)
    asked = write_words(shop, answer, what_if=("run.batch=2",), hours=False)
    assert all(text.startswith("[What if: run.batch=2. Your file says otherwise") for text in asked["text"])
    assert not plain["text"].str.contains("What if").any()
    assert plain["text"].str.contains("hours a week").any()
    assert not asked["text"].str.contains("hours a week").any()


def test_orders_to_come_get_no_letter(shop: Scenario) -> None:
    answer = forecast_delivery(shop, orders=5, replications=20)
    assert set(write_words(shop, answer)["order"]) == {"", "A", "B", "C"}
