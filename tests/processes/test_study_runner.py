"""Studies: the same luck for all, the same result however it is run, and an orderly end."""

from __future__ import annotations

import tracemalloc
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from multiprocessing import active_children
from pathlib import Path

import numpy as np
import pytest

from shopsim import own_law
from shopsim.errors import InputError, RunError
from shopsim.scenario import Scenario, change_scenario, parse_scenario
from shopsim.study import MEASURES, chunks, hash_scenario, open_workers, process_pool, run_study, runner

STEPS = """
{ name = "cut", work = "10 / 20 / 45 min", setup = "15 min", station = "saw" },
{ name = "glue", work = "5 / 10 / 20 min", clamps = [{ count = 2, reach = "20 in" }], in_clamps = "1 / 2 / 4 h" },
{ name = "sand", work = "10 / 15 / 30 min", station = "saw", setup = "5 min" },
"""
SHOP = """
[[shop.stations]]
name = "saw"
[[shop.clamps]]
name = "bar clamp"
reach = "24 in"
count = 4
"""


@pytest.fixture
def scenario(write_shop: Callable[..., str]) -> Scenario:
    return parse_scenario(write_shop(STEPS, shop=SHOP, run="orders = 6\nbatch = 3"))


@pytest.fixture
def alternatives(scenario: Scenario) -> dict[str, Scenario]:
    return {"three": scenario, "two": change_scenario(scenario, {"run.batch": 2})}


@pytest.mark.usefixtures("simpy_only")
def test_two_processes_give_the_same_bits_as_one(alternatives: dict[str, Scenario]) -> None:
    here = run_study(alternatives, replications=40, seed=3)
    apart = run_study(alternatives, replications=40, seed=3, jobs=2)
    assert here.rows.equals(apart.rows)
    for name in alternatives:
        assert np.array_equal(here.order_days[name], apart.order_days[name])
        assert np.array_equal(here.clamp_peaks[name], apart.clamp_peaks[name])
    assert apart.complete


@pytest.mark.usefixtures("simpy_only")
@pytest.mark.parametrize("pays_from", [0.0, 1e9, 0.05])
def test_patient_workers_begin_where_it_pays_and_give_the_same_bits(
    pays_from: float, alternatives: dict[str, Scenario], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(process_pool, "BEGIN_S", pays_from)
    monkeypatch.setattr(runner, "TELLING_S", 0.0)
    here = run_study(alternatives, replications=60, seed=3)
    with open_workers(2, patient=True) as pool:
        for _ in range(2):  # the second study goes on with whatever the first has begun
            apart = run_study(alternatives, replications=60, seed=3, jobs=2, executor=pool)
            assert apart.complete
            assert here.rows.equals(apart.rows)
        assert bool(active_children()) == (pays_from < 1e9)
    assert active_children() == []


@pytest.mark.usefixtures("simpy_only")
def test_patient_workers_can_be_stopped_before_they_begin(scenario: Scenario) -> None:
    done: list[int] = []
    with open_workers(2, patient=True) as pool:
        study = run_study(
            {"it": scenario}, replications=50, jobs=2, executor=pool,
            on_progress=lambda n, _: done.append(n), should_stop=lambda: len(done) >= 7,
        )  # fmt: skip
    assert (study.replications, study.complete, done) == (7, False, [1, 2, 3, 4, 5, 6, 7])
    assert study.rows.equals(run_study({"it": scenario}, replications=7).rows)


def test_any_executor_gives_the_same_result(alternatives: dict[str, Scenario]) -> None:
    with ThreadPoolExecutor(3) as threads:
        lent = run_study(alternatives, replications=30, executor=threads)
        assert threads.submit(int, "5").result() == 5  # it is still its owner's, and working
    assert lent.rows.equals(run_study(alternatives, replications=30).rows)


def test_an_executor_that_is_shut_down_is_a_clear_error(alternatives: dict[str, Scenario]) -> None:
    threads = ThreadPoolExecutor(1)
    threads.shutdown()
    with pytest.raises(RunError, match="executor handed in no longer works"):
        run_study(alternatives, replications=5, executor=threads)


def test_a_replication_has_the_same_luck_alone_and_among_others(scenario: Scenario) -> None:
    all_of_them = run_study({"a": scenario}, replications=10, seed=5)
    later = run_study({"a": scenario}, replications=4, seed=5, first_replication=6)
    assert np.array_equal(later.outcomes["a"].replications, [6, 7, 8, 9])
    assert np.array_equal(all_of_them.order_days["a"][6:], later.order_days["a"])
    assert np.array_equal(all_of_them.outcomes["a"].measured[6:], later.outcomes["a"].measured)
    assert all_of_them.head(6).extend(later).rows.equals(all_of_them.rows)


@pytest.mark.usefixtures("simpy_only")
def test_a_run_takes_little_more_memory_than_its_numbers(scenario: Scenario) -> None:
    run_study({"today": scenario}, replications=5)  # loads what every run needs

    def most_bytes(replications: int) -> tuple[int, int]:
        tracemalloc.start()
        outcome = run_study({"today": scenario}, replications=replications).outcomes["today"]
        most = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        arrays = (outcome.replications, outcome.measured, outcome.order_days, outcome.clamp_peaks)
        return most, sum(array.nbytes for array in arrays)

    (few, few_numbers), (many, many_numbers) = most_bytes(64), most_bytes(1088)
    assert many - few < 3 * (many_numbers - few_numbers)


def test_another_seed_is_other_luck(scenario: Scenario) -> None:
    one, two = (run_study({"a": scenario}, replications=10, seed=seed) for seed in (1, 2))
    assert not np.array_equal(one.values("a", "hands_on_h_a_piece"), two.values("a", "hands_on_h_a_piece"))


def test_alternatives_share_their_luck(alternatives: dict[str, Scenario]) -> None:
    study = run_study(alternatives, replications=60)
    three, two = (study.values(name, "hands_on_h_a_piece") for name in alternatives)
    assert np.corrcoef(three, two)[0, 1] > 0.95
    assert np.std(three - two) < 0.2 * np.std(three)


def test_the_table_of_a_study_has_a_row_for_each_alternative_and_replication(
    alternatives: dict[str, Scenario],
) -> None:
    study = run_study(alternatives, replications=3)
    assert list(study.rows.columns) == ["alternative", "replication", *MEASURES]
    assert study.rows["alternative"].tolist() == ["three"] * 3 + ["two"] * 3
    assert study.rows["replication"].tolist() == [0, 1, 2, 0, 1, 2]
    assert study.order_days["two"].shape == (3, 6)
    assert study.names == ("three", "two")


@pytest.mark.parametrize("jobs", [1, 2])
def test_stopping_keeps_what_every_alternative_has_finished(alternatives: dict[str, Scenario], jobs: int) -> None:
    seen: list[tuple[int, int]] = []
    study = run_study(
        alternatives,
        replications=400,
        jobs=jobs,
        on_progress=lambda done, total: seen.append((done, total)),
        should_stop=lambda: bool(seen) and seen[-1][0] >= 31,
    )
    assert not study.complete
    assert 0 < study.replications < 400
    assert study.wanted == 400
    whole = run_study(alternatives, replications=study.replications + 40)
    kept = study.outcomes["three"].replications
    assert np.array_equal(kept, study.outcomes["two"].replications)
    assert np.array_equal(study.order_days["two"], whole.order_days["two"][kept])


def test_stopping_at_once_gives_an_empty_study(alternatives: dict[str, Scenario]) -> None:
    study = run_study(alternatives, replications=5, should_stop=lambda: True)
    assert study.replications == 0
    assert not study.complete
    assert study.order_days["three"].shape == (0, 6)
    assert study.rows.empty
    assert list(study.rows.columns) == ["alternative", "replication", *MEASURES]


@pytest.mark.parametrize("jobs", [1, 2])
def test_progress_rises_to_the_number_of_runs(alternatives: dict[str, Scenario], jobs: int) -> None:
    seen: list[tuple[int, int]] = []
    run_study(alternatives, replications=20, jobs=jobs, on_progress=lambda done, total: seen.append((done, total)))
    done = [one for one, _ in seen]
    assert done == sorted(done)
    assert seen[-1] == (40, 40)
    assert {total for _, total in seen} == {40}


@pytest.mark.parametrize(("limit", "kept"), [({"MAX_PLANS": 2}, 2), ({"MAX_TASKS_KEPT": 1}, 1)])
def test_plans_kept_ready_are_few_and_never_change_a_result(
    alternatives: dict[str, Scenario], monkeypatch: pytest.MonkeyPatch, limit: dict[str, int], kept: int
) -> None:
    # More alternatives than plans are kept: their plans are built again and again, to the same end.
    sizes = {f"{n} orders": change_scenario(alternatives["two"], {"run.orders": n}) for n in range(2, 6)}
    usual = run_study(sizes, replications=30, seed=5)
    for name, most in limit.items():
        monkeypatch.setattr(chunks, name, most)
    with ThreadPoolExecutor(1) as executor:
        few = run_study(sizes, replications=30, seed=5, executor=executor)
        assert executor.submit(lambda: len(chunks._cache.plans)).result() == kept
    for name in sizes:
        assert few.outcomes[name].measured.tobytes() == usual.outcomes[name].measured.tobytes()


def test_a_run_that_stalls_names_alternative_seed_and_replication(scenario: Scenario) -> None:
    nobody = scenario.model_copy(update={"shop": scenario.shop.model_copy(update={"workers": ()})})
    with pytest.raises(RunError, match='"stuck", seed 9, replication 0'):
        run_study({"stuck": nobody}, replications=2, seed=9)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ({"replications": 0}, "replications = 0"),
        ({"replications": 2.5}, "replications = 2.5"),
        ({"replications": 2, "seed": -1}, "seed = -1"),
        ({"replications": 2, "jobs": 0}, "jobs = 0"),
        ({"replications": 2, "jobs": True}, "jobs = True"),
        ({"replications": 2, "first_replication": -3}, "first_replication = -3"),
    ],
)
def test_bad_counts_are_refused_by_name(scenario: Scenario, arguments: dict[str, object], said: str) -> None:
    with pytest.raises(InputError, match=said):
        run_study({"a": scenario}, **arguments)  # type: ignore[arg-type]


def test_a_study_of_nothing_is_refused() -> None:
    with pytest.raises(InputError, match="at least one alternative"):
        run_study({}, replications=2)


def test_a_rule_that_cannot_be_sent_to_a_process_is_refused_with_the_mend(scenario: Scenario) -> None:
    with pytest.raises(InputError, match="jobs=1"):
        run_study({"a": scenario}, replications=2, jobs=2, rule=lambda task: (task.batch,))


def test_a_rule_of_ones_own_is_used(scenario: Scenario) -> None:
    plain = run_study({"a": scenario}, replications=5)
    own = run_study({"a": scenario}, replications=5, rule=lambda task: (-task.piece,))
    assert not np.array_equal(plain.values("a", "makespan_days"), own.values("a", "makespan_days"))


def test_equal_scenarios_have_equal_hashes_and_any_change_another(
    scenario: Scenario, write_shop: Callable[..., str]
) -> None:
    again = parse_scenario(write_shop(STEPS, shop=SHOP, run="orders = 6\nbatch = 3"), name="elsewhere.toml")
    assert hash_scenario(again) == hash_scenario(scenario)
    changes = [{"run.batch": 2}, {"title": "other"}, {"shop.clamps[0].count": 5}, {"luck.bias": 1.1}]
    hashes = {hash_scenario(change_scenario(scenario, change)) for change in changes}
    assert len(hashes | {hash_scenario(scenario)}) == 5


def test_the_hash_sees_what_a_law_of_ones_own_does(scenario: Scenario) -> None:
    # Two functions of one name that do other things, and one that closes over another number.
    def make(minutes: float) -> Callable[[np.ndarray], np.ndarray]:
        return lambda u: minutes + 5.0 * u

    def squared(u: np.ndarray) -> np.ndarray:
        return 10.0 + 5.0 * u**2

    laws = [own_law(function, likely=12.0) for function in (make(10.0), make(11.0), squared)]
    hashes = [hash_scenario(change_scenario(scenario, {"design.operations[0].work": law})) for law in laws]
    assert len(set(hashes)) == 3
    again = change_scenario(scenario, {"design.operations[0].work": own_law(make(10.0), likely=12.0)})
    assert hash_scenario(again) == hashes[0]


def test_the_hash_sees_the_orders_of_a_file(write_shop: Callable[..., str], tmp_path: Path) -> None:
    hashes = set()
    for day in ("05", "06"):
        (tmp_path / "orders.csv").write_text(f"id,date\na,2027-01-{day}\n")
        text = write_shop(STEPS, shop=SHOP, run='orders = "orders.csv"')
        hashes.add(hash_scenario(parse_scenario(text, folder=tmp_path)))
    assert len(hashes) == 2


def test_studies_on_other_luck_are_not_joined(scenario: Scenario) -> None:
    one, two = (run_study({"a": scenario}, replications=2, seed=seed) for seed in (1, 2))
    with pytest.raises(InputError, match="same luck"):
        one.join(two)
