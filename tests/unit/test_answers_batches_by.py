"""Batches in the order received against batches by option: compared on the same luck, known by hand without any."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from shopsim.answers import compare_batches_by
from shopsim.errors import InputError
from shopsim.scenario import Scenario, change_scenario, parse_scenario
from shopsim.study import run_study

CALM = 'interrupted = "0 %"\nlost_days = "0 %"\n'
OPTIONS = '[[design.options]]\nname = "red"\nchange = [{ operation = "spray", cure = "1 min" }]\n'


@pytest.fixture
def build(write_shop: Callable[..., str], tmp_path: Path) -> Callable[..., Scenario]:
    def make(options: str, work: str = "1 h") -> Scenario:
        rows = "".join(f"{n},2027-01-04,{option}\n" for n, option in enumerate(options.split("|")))
        (tmp_path / "orders.csv").write_text("id,date,option\n" + rows)
        operations = f'{{ name = "spray", work = "{work}", setup = "3 h" }},'
        run = 'orders = "orders.csv"\nbatch = 2\npieces_open = 2'
        return parse_scenario(write_shop(operations, shop=CALM, run=run, more=OPTIONS), folder=tmp_path)

    return make


def test_grouping_saves_the_set_ups_that_mixed_batches_pay_twice(build: Callable[..., Scenario]) -> None:
    answer = compare_batches_by(build("|red||red"), replications=20)
    rows = answer.rows.set_index("batches_by")
    assert rows["batches"].tolist() == [2, 2]
    assert rows["setup_h"].to_dict() == {"order received": 12.0, "option": 6.0}
    # mixed: each batch takes two set-ups and two hours, 8 h: done on Monday, Monday, Tuesday, Tuesday;
    # grouped: 3 h and two hours a batch, the plain ones on Monday and the red on Monday (8 h) and Tuesday
    assert rows["last_ship_day"].to_dict() == {"order received": 1.0, "option": 1.0}
    assert rows.loc["option", "setup_saved_h"] == 6.0
    assert "Batches by option saves about 6.0 hours of set-up" in answer.sentence
    assert rows.loc["order received", "is_now"]


def test_it_is_compared_on_the_same_luck_as_two_studies_of_each(build: Callable[..., Scenario]) -> None:
    scenario = build("|red||red|red|", "30 / 60 / 150 min")
    answer = compare_batches_by(scenario, replications=60, seed=3)
    other = change_scenario(scenario, {"run.batches_by": "option"})
    study = run_study({"a": scenario, "b": other}, replications=60, seed=3)
    gap = study.values("b", "average_ship_day") - study.values("a", "average_ship_day")
    row = answer.rows.set_index("batches_by").loc["option"]
    assert row["average_saved_days"] == pytest.approx(-float(np.mean(gap)))
    assert row["average_saved_days_low"] <= row["average_saved_days"] <= row["average_saved_days_high"]
    turned = compare_batches_by(other, replications=60, seed=3).rows
    assert turned["batches_by"].tolist() == ["option", "order received"]
    assert turned["average_saved_days"].iloc[1] == pytest.approx(float(np.mean(gap)))


def test_where_nobody_asks_for_an_option_there_is_nothing_to_compare(build: Callable[..., Scenario]) -> None:
    with pytest.raises(InputError, match="no order asks for an option"):
        compare_batches_by(build("||"), replications=10)
    with pytest.raises(InputError, match="no order asks for an option"):
        compare_batches_by(change_scenario(build("|red"), {"run.orders": 4}), replications=10)
