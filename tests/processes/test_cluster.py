"""Studies on a Dask cluster: the bits of one process, whatever happens to its workers; and what cannot work is said at once."""

from __future__ import annotations

import os
import signal
import socket
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from distributed import Client, LocalCluster

from shopsim.engine import compiling
from shopsim.errors import InputError, RunError
from shopsim.scenario import Scenario, change_scenario, parse_scenario
from shopsim.study import Study, cluster, extend_study, run_study
from shopsim.study.chunks import PackedScenario
from shopsim.study.cluster import ALIKE, Cluster, check_alike, find_versions, open_cluster
from shopsim.study.work_pieces import Work

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def local() -> Iterator[LocalCluster]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(compiling.SWITCH, "no")  # so that both floors make runs, one of them there and one here
        with LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, dashboard_address="127.0.0.1:0", silence_logs=50
        ) as started:
            yield started


@pytest.fixture
def client(local: LocalCluster) -> Iterator[Client]:
    with Client(local, set_as_default=False) as connected:
        connected.wait_for_workers(2, timeout=60)
        yield connected


@pytest.fixture
def alternatives(write_shop: Callable[..., str]) -> dict[str, Scenario]:
    steps = (
        '{ name = "cut", work = "10 / 20 / 45 min", setup = "15 min" }, { name = "sand", work = "10 / 15 / 30 min" },'
    )
    scenario = parse_scenario(write_shop(steps, run="orders = 6\nbatch = 3"))
    return {"three": scenario, "two": change_scenario(scenario, {"run.batch": 2})}


def assert_same(one: Study, other: Study) -> None:
    assert one.rows.equals(other.rows)
    for name in one.names:
        assert np.array_equal(one.order_days[name], other.order_days[name])
        assert np.array_equal(one.clamp_peaks[name], other.clamp_peaks[name])


def test_a_study_on_a_cluster_has_the_bits_of_one_in_this_process(
    client: Client, alternatives: dict[str, Scenario]
) -> None:
    here = run_study(alternatives, replications=300, seed=3)
    executor = client.get_executor()
    assert_same(run_study(alternatives, replications=300, seed=3, executor=executor), here)
    longer = extend_study(run_study(alternatives, replications=100, seed=3, executor=executor), 300, executor=executor)
    assert_same(longer, here)
    even = run_study(alternatives, replications=16, seed=3, sobol_block=8, executor=executor)
    assert_same(even, run_study(alternatives, replications=16, seed=3, sobol_block=8))


def test_a_worker_that_is_killed_in_the_middle_loses_nothing(client: Client, alternatives: dict[str, Scenario]) -> None:
    workers = client.run(os.getpid)
    killed: list[int] = []

    def kill_one(done: int, total: int) -> None:
        if not killed and done > total / 10:
            killed.append(next(iter(workers.values())))
            os.kill(killed[0], signal.SIGKILL)

    far = run_study(alternatives, replications=1000, seed=4, executor=client.get_executor(), on_progress=kill_one)
    assert killed
    assert far.complete
    assert_same(far, run_study(alternatives, replications=1000, seed=4))


def test_a_study_on_a_cluster_stops_when_asked_and_leaves_nothing_waiting(
    client: Client, alternatives: dict[str, Scenario]
) -> None:
    counts: list[int] = []
    study = run_study(
        alternatives, replications=100_000, seed=3, executor=client.get_executor(),
        on_progress=lambda done, _: counts.append(done), should_stop=lambda: len(counts) >= 12,  # of 16 handed out, so each has some
    )  # fmt: skip
    assert not study.complete
    assert 0 < study.replications < 100_000
    until = time.monotonic() + 60
    while any(client.processing().values()):
        assert time.monotonic() < until, "pieces of a stopped study are still with the workers"
        time.sleep(0.1)


def test_scenarios_go_to_the_cluster_once_and_pieces_grow_with_the_pace(
    client: Client, alternatives: dict[str, Scenario]
) -> None:
    through = Cluster(client.get_executor())
    a_run_s = cluster.RUN_S + 1000 * cluster.TASK_S
    assert through.piece_size(1000, 10**6) == through.piece_size(1000, 1) == int(cluster.MIN_S / a_run_s)
    for _ in range(2):
        run_study({"it": alternatives["three"]}, replications=300, executor=through)
    assert len(through._sent) == 1
    ((n_tasks, pace),) = through._pace.items()
    assert 0 < len(pace) <= cluster.LAST_PIECES
    pace.extend([0.001] * cluster.LAST_PIECES)
    assert [through.piece_size(n_tasks, left) for left in (10**6, 2400, 1)] == [500 - 500 % 256, 300 - 300 % 256, 100]


def test_a_command_on_a_cluster_says_what_it_says_here(
    local: LocalCluster, client: Client, trays: Path, shopsim: Callable[..., tuple[int, str, str]]
) -> None:
    words = ("batches", trays, "--sizes", "1,2", "--replications", "60", "--json")
    here = shopsim(*words, "--jobs", "1")
    assert here[0] == 0
    assert shopsim(*words, "--cluster", local.scheduler_address) == here


def test_what_a_cluster_cannot_carry_through_is_the_error_it_is_here(
    client: Client, alternatives: dict[str, Scenario], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "only_here.py").write_text("def rule(waiting):\n    return (waiting.batch,)\n", encoding="utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    import only_here

    with pytest.raises(RunError, match='has no module "only_here" · install it on all machines'):
        run_study(alternatives, replications=5, executor=client.get_executor(), rule=only_here.rule)
    sys.modules.pop("only_here")


def test_other_versions_are_refused_by_name(
    local: LocalCluster, client: Client, alternatives: dict[str, Scenario], monkeypatch: pytest.MonkeyPatch
) -> None:
    here = find_versions()
    assert tuple(here) == ALIKE
    assert here["Python"] == f"{sys.version_info.major}.{sys.version_info.minor}"
    check_alike(here, "a worker")
    monkeypatch.setattr(cluster, "find_versions", lambda: {**here, "numpy": "1.0", "Python": "3.99"})
    said = rf"the worker at tcp://\S+ has Python {here['Python']}, numpy {np.__version__}, and this machine Python 3.99, numpy 1.0 · install the same"
    with pytest.raises(InputError, match=said):
        run_study(alternatives, replications=5, executor=client.get_executor())
    with pytest.raises(InputError, match=said), open_cluster(local.scheduler_address):
        pass


def test_a_worker_that_comes_later_is_asked_for_its_versions_too(client: Client) -> None:
    through = Cluster(client.get_executor())
    through.check()
    late = client.submit(cluster.run_far, {**find_versions(), "shopsim": "0.0"}, (1, 1), len, "abc", pure=False)
    with pytest.raises(InputError, match=r"a worker on .* has shopsim .*, and this machine shopsim 0\.0"):
        late.result()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--cluster", "tcp://127.0.0.1:{free}"), "no cluster answers at tcp://127.0.0.1:{free} · start one there"),
        (("--cluster", "somewhere"), '"somewhere" is no address of a cluster · write it like tcp://'),
        (("--cluster", ""), '"" is no address of a cluster · write it like tcp://'),
        (("--cluster", "carrier://127.0.0.1:{free}"), "no cluster answers at carrier://127.0.0.1:{free} · start one"),
        (("--cluster", "tcp://127.0.0.1:{free}", "--jobs", "2"), "leave out --jobs, or --cluster"),
    ],
)
def test_a_cluster_that_cannot_be_had_is_one_clear_message(
    words: tuple[str, ...], said: str, trays: Path, shopsim: Callable[..., tuple[int, str, str]]
) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        free = str(taken.getsockname()[1])  # of nobody, once it is let go of
    words, said = tuple(word.format(free=free) for word in words), said.format(free=free)
    code, out, err = shopsim("batches", trays, *words)
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert said in err


def test_without_the_library_the_message_says_what_to_install(
    trays: Path, shopsim: Callable[..., tuple[int, str, str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    code, out, err = shopsim("times", trays, "--cluster", "tcp://127.0.0.1:8786")
    assert (code, out) == (2, "")
    assert err == 'studies on a cluster need the library "distributed" · install it: pip install "shopsim[cluster]"\n'


def test_a_cluster_without_workers_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster, "CONNECT_S", 1.0)
    with (
        LocalCluster(n_workers=0, dashboard_address="127.0.0.1:0", silence_logs=50) as empty,
        pytest.raises(InputError, match=r"has no workers · start some: dask worker tcp://"),
        open_cluster(empty.scheduler_address),
    ):
        pass


def test_pieces_go_by_replications_first_and_come_back_first() -> None:
    one, two = (PackedScenario(name, name, b"", 1) for name in ("one", "two"))
    told: list[int] = []

    def size(left: int) -> int:
        told.append(left)
        return 3

    work = Work([one, two], range(4, 9), size)
    assert (bool(work), work.n_runs) == (True, 10)
    first = work.take()
    assert first == (one, 4, 7)
    work.put_back([first])
    assert [work.take() for _ in range(4)] == [first, (two, 4, 7), (one, 7, 9), (two, 7, 9)]
    assert (bool(work), work.n_runs, told) == (False, 0, [10, 4])


def test_killed_again_and_again_is_an_error(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    through: Any = Cluster(client.get_executor())
    lost = cluster.Lost("by whoever killed it")
    for _ in range(cluster.MAX_RESTARTS):
        through.restart(lost)
    with pytest.raises(RunError, match="ended from outside again and again"):
        through.restart(lost)
    with pytest.raises(RunError, match="no longer answers"):
        through.restart(ConnectionError())
