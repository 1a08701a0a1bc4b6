"""Studies on many machines: a Dask cluster as an executor, with pieces of work sized so that its network is idle.

Dask does what is general: it sends work to processes anywhere, and does again what was lost with one of them. Here is
what studies need beside that: a scenario goes to each process once, results come back packed, pieces last about half a
second, other versions are refused, and a cluster without workers is an error, not silence.
"""

from __future__ import annotations

import pickle
import platform
import re
import statistics
import time
import warnings
import zlib
from collections import OrderedDict, deque
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import BrokenExecutor, Executor, Future
from contextlib import contextmanager
from functools import cache
from importlib import metadata
from typing import TYPE_CHECKING, Any, cast

from shopsim.engine.compiling import want_compiled
from shopsim.errors import InputError, RunError
from shopsim.study.chunks import MAX_AT_ONCE, Chunk, PackedScenario, share_plans
from shopsim.version import VERSION

if TYPE_CHECKING:
    from distributed import Client
    from distributed.cfexecutor import ClientExecutor

#: Seconds that a piece of work shall last at least and at most: long against the milliseconds that it costs to hand out,
#: short enough for whoever stops.
MIN_S, MAX_S = 0.1, 0.5
#: What the asking machine has to do for a piece, in seconds of one core (measured); with many cores pieces last longer for it.
HAND_OUT_S = 0.006
#: Seconds a run and a task on machines of which nothing is known yet: those of the SimPy model, which is what runs at first.
RUN_S, TASK_S = 1e-3, 5e-6
#: Seconds that pieces which are being worked on are waited for once the user stops.
STOP_S = 2.0
#: Pieces that tell how long a run takes: few, as runs are quicker from one to the next once a machine has compiled.
LAST_PIECES = 5
#: Pieces handed out for each core: the one it is at, and the next.
AHEAD = 2
#: Seconds until an address that does not answer, or has no workers, is given up; between two counts of the workers; and
#: without any worker in the middle of a study.
CONNECT_S, COUNT_S, NO_WORKER_S = 5.0, 2.0, 60.0
#: How often a piece is handed out again after Dask has given it up because the processes at it were killed.
MAX_RESTARTS = 3
#: Scenarios that stay with the cluster for the next pieces.
MAX_SENT = 256
#: What has to be of one version on all machines for results to be equal bit for bit; of Python the first two numbers.
ALIKE = ("shopsim", "Python", "numpy", "scipy")


class Lost(BrokenExecutor):
    """A piece of work was given up because the processes that were at it came to their end."""


@cache
def find_versions() -> dict[str, str]:
    """The versions in this process of what has to be alike."""
    ours = {"shopsim": VERSION, "Python": ".".join(platform.python_version_tuple()[:2])}
    return {name: ours.get(name) or metadata.version(name) for name in ALIKE}


def check_alike(there: Mapping[str, str | None], where: str, here: Mapping[str, str] | None = None) -> None:
    """InputError that names each version of ``there`` which is not that of here, the asking machine."""
    here = here or find_versions()
    differ = [name for name in ALIKE if there.get(name) != here[name]]
    if differ:
        theirs = ", ".join(f"{name} {there.get(name) or 'missing'}" for name in differ)
        ours = ", ".join(f"{name} {here[name]}" for name in differ)
        raise InputError(
            f"{where} has {theirs}, and this machine {ours} · install the same versions on all machines, as results "
            "would not be the same bit for bit"
        )


def hold(packed: PackedScenario) -> PackedScenario:
    """A scenario as the result of a piece of work, which Dask brings to every process that needs it, and again if it is lost."""
    return packed


def run_far(
    here: Mapping[str, str], coming: tuple[int, int], work: Callable[..., Any], *args: Any
) -> tuple[bytes, float]:
    """What ``work(*args)`` gives, packed, and the seconds it took, in a process of a cluster.

    ``here``: versions of who asks. ``coming``: how many runs of how many tasks a process has to expect.
    """
    check_alike(find_versions(), f"a worker on {platform.node()}", here)
    from distributed import get_worker

    share_plans(get_worker().state.nthreads)
    want_compiled(*coming)
    begun = time.perf_counter()
    result = work(*args)
    return zlib.compress(pickle.dumps(result), 1), time.perf_counter() - begun


class Cluster(Executor):
    """The workers of a Dask cluster, for any number of studies in a row, through the executor of its client."""

    def __init__(self, through: ClientExecutor) -> None:
        self._through = through
        self._client: Client = through._client
        self._sent: OrderedDict[tuple[str, str], Any] = OrderedDict()
        self._pace: dict[int, deque[float]] = {}
        self._coming = 0, 0
        self._n_threads, self._counted_at, self._seen_at = 0, -1e9, time.monotonic()
        self._checked = False
        self.restarts = 0

    @property
    def address(self) -> str:
        """Where its scheduler is."""
        scheduler = self._client.scheduler
        return "an address that is closed" if scheduler is None else str(scheduler.address)

    def check(self) -> None:
        """InputError unless there are workers, and all have the versions that are here."""
        begun = time.monotonic()
        while not self._count():
            if time.monotonic() - begun > CONNECT_S:
                raise InputError(
                    f"the cluster at {self.address} has no workers · start some: dask worker {self.address}"
                )
            time.sleep(0.1)
        said = self._ask(lambda: self._client.get_versions(packages=[name for name in ALIKE if name != "Python"]))
        for address, told in said["workers"].items():
            packages = dict(told["packages"])
            packages["Python"] = ".".join(str(packages["python"]).split(".")[:2])
            check_alike(packages, f"the worker at {address}")
        self._checked = True

    def count_threads(self) -> int:
        """Runs that the workers make at once, now; RunError if there has been no worker for a minute."""
        if not self._checked:
            self.check()
        if time.monotonic() - self._counted_at > COUNT_S:
            self._count()
        if time.monotonic() - self._seen_at > NO_WORKER_S:
            raise RunError(
                f"the cluster at {self.address} has had no workers for {NO_WORKER_S:g} seconds · start some: "
                f"dask worker {self.address}"
            )
        return max(1, self._n_threads)

    def _count(self) -> int:
        self._n_threads = sum(self._ask(self._client.nthreads).values())
        self._counted_at = time.monotonic()
        if self._n_threads:
            self._seen_at = self._counted_at
        return self._n_threads

    def _ask(self, question: Callable[[], Any]) -> Any:
        """An answer of the scheduler; RunError if there is none."""
        try:
            return question()
        except (OSError, RuntimeError, TimeoutError) as error:
            raise self._gone() from error

    def _gone(self) -> RunError:
        return RunError(f"the cluster at {self.address} no longer answers · start it anew, and run again")

    def expect(self, n_runs: int, n_tasks: int) -> None:
        """So many runs of so many tasks are to come, for all workers together."""
        self._coming = -(-n_runs // self.count_threads()), n_tasks

    def piece_size(self, n_tasks: int, n_runs: int) -> int:
        """How many runs of so many tasks the next piece shall have, with ``n_runs`` left to do: a quarter of what falls to each
        core, but so many that a piece takes at least MIN_S and at most MAX_S seconds, at the pace of the last pieces, longer where there are so many cores that handing out would be the limit; MIN_S where
        no pace is known yet.
        """
        known = n_tasks in self._pace
        run_s = statistics.median(self._pace[n_tasks]) if known else RUN_S + n_tasks * TASK_S
        threads = self.count_threads()
        most_s = max(MAX_S, HAND_OUT_S * threads) if known else MIN_S
        size = int(min(max(-(-n_runs // (4 * threads)), MIN_S / run_s), most_s / run_s))
        return max(1, size if size < MAX_AT_ONCE else size - size % MAX_AT_ONCE)

    def submit(self, work: Callable[..., Any], /, *args: Any, **_: Any) -> Future[Any]:
        """A call made by one of the workers. Its future ends with Lost when the processes at it were killed again and again."""
        self.count_threads()
        sent = [self._send(arg) if isinstance(arg, PackedScenario) else arg for arg in args]
        through: Any = self._through
        far = through.submit(run_far, find_versions(), self._coming, work, *sent, pure=False)
        n_tasks = sum(arg.n_tasks for arg in args if isinstance(arg, PackedScenario))
        near: Future[Any] = Future()
        left = [far]  # emptied when it is done: two futures that hold each other would keep results at the workers
        near.add_done_callback(lambda done: [one.cancel() for one in left] if done.cancelled() else None)
        far.add_done_callback(lambda _: left.clear())
        far.add_done_callback(lambda done: self._hand_on(done, near, n_tasks))
        return near

    def _send(self, packed: PackedScenario) -> Any:
        """The scenario where the cluster keeps it."""
        place = packed.name, packed.key
        if place not in self._sent:
            self._sent[place] = self._client.submit(hold, packed, pure=False)
            if len(self._sent) > MAX_SENT:
                self._sent.popitem(last=False)
        self._sent.move_to_end(place)
        return self._sent[place]

    def _hand_on(self, far: Future[Any], near: Future[Any], n_tasks: int) -> None:
        """What came of a call to whoever waits for it."""
        if not near.set_running_or_notify_cancel():
            return
        try:
            content, seconds = far.result()
            result = pickle.loads(zlib.decompress(content))
            if isinstance(result, Chunk):
                pace = self._pace.setdefault(n_tasks, deque(maxlen=LAST_PIECES))
                pace.append(seconds / result.replications.size)
            near.set_result(result)
        except BaseException as error:
            near.set_exception(self._read_fault(error))

    def _read_fault(self, error: BaseException) -> BaseException:
        """What a call failed with, in words of ours where it is about the cluster."""
        if type(error).__name__ == "KilledWorker":
            return Lost(str(error))
        if isinstance(error, ImportError):
            return RunError(
                f'a worker of the cluster at {self.address} has no module "{error.name}" · install it on all machines'
            )
        return error

    def restart(self, fault: Exception) -> None:
        """Go on after a piece was lost; RunError where it has come to that too often, or the cluster is no longer there."""
        if not isinstance(fault, Lost):
            raise self._gone() from fault
        self.restarts += 1
        if self.restarts > MAX_RESTARTS:
            raise RunError(
                f"workers of the cluster at {self.address} were ended from outside again and again "
                "· free some memory there, or begin fewer workers on a machine"
            ) from fault

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """Whoever opened the client closes it."""


def as_cluster(executor: Executor | None) -> Executor | None:
    """The executor, that of a Dask client as a ``Cluster``."""
    kind = type(executor)
    if kind.__module__.partition(".")[0] == "distributed" and kind.__name__ == "ClientExecutor":
        return Cluster(cast("ClientExecutor", executor))
    return executor


@contextmanager
def open_cluster(address: str) -> Iterator[Cluster]:
    """The cluster whose scheduler is at ``address``, such as ``tcp://10.0.0.5:8786``; let go of with the block.

    Raises InputError, within seconds, where Dask is not installed, nobody answers there, there are no workers, or their
    versions are not those of here.
    """
    try:
        import distributed
    except ImportError as error:
        raise InputError(
            'studies on a cluster need the library "distributed" · install it: pip install "shopsim[cluster]"'
        ) from error
    if not re.fullmatch(r"([a-z]+://)?[^\s/:]+(:[^\s/:]+)*:[0-9]{1,5}", address):
        raise InputError(f'"{address}" is no address of a cluster · write it like tcp://10.0.0.5:8786')
    connect: Any = distributed.Client
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of other versions: those that matter are an error below
        try:
            client: Any = connect(address, timeout=CONNECT_S, set_as_default=False)
        except (OSError, ValueError, RuntimeError) as error:
            raise InputError(
                f"no cluster answers at {address} · start one there with dask scheduler, or mend the address"
            ) from error
    try:
        cluster = Cluster(client.get_executor())
        cluster.check()
        yield cluster
    finally:
        client.close(timeout=CONNECT_S)
