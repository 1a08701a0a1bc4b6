"""It holds that the entry of every question leads to what it names, and that a question is asked in one way."""

from __future__ import annotations

import inspect
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

from shopsim.answers import compare_batch_sizes
from shopsim.answers.alternatives import NOW, run_alternatives
from shopsim.answers.answer import Answer, build_answer
from shopsim.answers.batch_size import BatchSizes
from shopsim.answers.question import Question, ask, list_looks, look
from shopsim.charts.for_answers import build_for_answer
from shopsim.columns import TABLES
from shopsim.errors import Cancelled, InputError
from shopsim.questions import KINDS, Kind, find_command, find_kind, load
from shopsim.scenario import Scenario, load_scenario
from shopsim.screens import screen_table
from shopsim.study import hash_scenario, run_study
from shopsim.study.execution import Execution


@pytest.fixture(scope="module")
def trays(request: pytest.FixtureRequest) -> Scenario:
    return load_scenario("scenarios/serving-trays.toml")


class LastDay(Question[Answer]):
    """A question of one alternative, which counts how often it is read."""

    def __init__(self, scenario: Scenario) -> None:
        self.scenario, self.asked = scenario, []

    @property
    def alternatives(self) -> Mapping[str, Scenario]:
        return {NOW: self.scenario}

    @property
    def usual(self) -> int:
        return 30

    @property
    def fewest(self) -> int:
        return 5

    def check(self, replications: int) -> None:
        if replications < 5:
            raise InputError("too few")

    def answers(self, execution: Execution, last: bool) -> Iterator[Answer]:
        study = run_alternatives(self.alternatives, execution)
        self.asked.append((study.replications, last))
        day = float(study.values(NOW, "last_ship_day").mean())
        yield build_answer(study, NOW, "last_day", pd.DataFrame({"last_ship_day": [day]}), f"Day {day:.1f}.")


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.key)
def test_every_entry_leads_to_what_it_names(kind: Kind) -> None:
    arguments = inspect.signature(kind.make).parameters
    assert next(iter(arguments)) == "scenario"
    assert {option.name for option in kind.options} <= set(arguments)
    assert find_kind(kind.key) is kind
    assert {chart.table for chart in kind.charts} <= {*TABLES, ""}
    for chart in kind.charts:
        assert list(inspect.signature(load(f"shopsim.charts.{chart.home}")).parameters)[1] == "theme"
    if kind.command is not None:
        assert find_command(kind.command.name) is kind
        assert "examples:" in kind.command.examples
    pages = {other.page for other in KINDS if other.page}
    assert {page for page, _ in kind.next_pages} <= pages
    assert bool(kind.page) == bool(kind.page_title)


def test_keys_commands_and_pages_are_told_apart() -> None:
    for named in (
        [kind.key for kind in KINDS],
        [kind.command.name for kind in KINDS if kind.command is not None],
        [kind.page for kind in KINDS if kind.page],
    ):
        assert len(named) == len(set(named))


@pytest.mark.usefixtures("simpy_only")  # whose runs are made one at a time
def test_a_question_is_asked_once_or_look_after_look_and_no_run_is_made_twice(trays: Scenario) -> None:
    told: list[int] = []
    execution = Execution(80, on_progress=lambda done, total: told.append(done), first_tasks=40 * 12)
    question = LastDay(trays)
    answers = list(look(question, execution))
    assert [answer.replications for answer in answers] == [12, 48, 80]
    assert question.asked == [(12, False), (48, False), (80, True)]
    assert len(told) == 80
    once = ask(question, Execution(80))
    assert once.rows.equals(answers[-1].rows)
    assert question.asked[-1] == (80, True)
    assert ask(question).replications == 30


def test_a_first_look_is_not_smaller_than_the_question_can_use(trays: Scenario) -> None:
    question = LastDay(trays)
    assert list_looks(question, Execution(400, first_tasks=1)) == [12, 48, 400]
    question.__class__ = type("Slow", (LastDay,), {"fewest": 100})
    assert list_looks(question, Execution(400, first_tasks=1)) == [100, 400]
    assert list_looks(question, Execution(50, first_tasks=1)) == [50]
    with pytest.raises(InputError, match="too few"):
        ask(LastDay(trays), Execution(4))


@pytest.mark.usefixtures("simpy_only")  # whose runs are made one at a time
def test_a_stop_ends_with_what_is_finished_and_before_that_with_nothing(trays: Scenario) -> None:
    runs = 0

    def count(done: int, _total: int) -> None:
        nonlocal runs
        runs = done

    answers = list(
        look(LastDay(trays), Execution(60, on_progress=count, should_stop=lambda: runs >= 7, first_tasks=40 * 20))
    )
    assert [(answer.replications, answer.partial) for answer in answers] == [(7, True)]
    with pytest.raises(Cancelled):
        ask(LastDay(trays), Execution(60, should_stop=lambda: True))


@pytest.mark.usefixtures("simpy_only")  # whose runs are made one at a time
def test_runs_that_are_there_are_taken_whatever_the_alternative_is_called(trays: Scenario) -> None:
    there = run_study({"another name": trays}, replications=20, seed=4)
    told: list[int] = []
    execution = Execution(30, on_progress=lambda done, total: told.append(total)).reusing(there)
    answer = ask(LastDay(trays), execution)
    assert (answer.seed, told) == (4, [10] * 10)
    assert answer.scenario_hash == hash_scenario(trays)
    assert answer.rows.equals(ask(LastDay(trays), Execution(30, seed=4)).rows)


def test_the_functions_of_the_package_are_the_same_question(trays: Scenario) -> None:
    asked = ask(BatchSizes(trays, (1, 3)), Execution(12, seed=2))
    assert compare_batch_sizes(trays, (1, 3), replications=12, seed=2).to_dict() == asked.to_dict()


def test_another_title_breaks_nothing(trays: Scenario) -> None:
    answer = ask(BatchSizes(trays, (1, 3)), Execution(12))
    renamed = replace(answer, title="How many at once?")
    assert screen_table(renamed).equals(screen_table(answer))
    assert len(build_for_answer(renamed.key, renamed.rows, renamed.tables)) == 1


def test_an_answer_without_a_screen_of_its_own_is_shown_by_its_columns(trays: Scenario) -> None:
    answer = ask(LastDay(trays), Execution(10))
    table = screen_table(answer)
    assert list(table.columns) == ["last ship day"]
    assert answer.title == "Last day"
    assert build_for_answer(answer.key, answer.rows, answer.tables) == []


def test_a_question_with_a_page_has_a_module_or_is_drawn_from_its_entry() -> None:
    pages = Path("shopsim/app/pages")
    drawn = [kind.page for kind in KINDS if kind.page and not (pages / f"{kind.page}_page.py").exists()]
    assert "holdups" in drawn
