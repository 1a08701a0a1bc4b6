"""Work that goes on while the page stays free: jobs in threads of their own, watched and stopped from the page.

A job's thread makes no call to the page; the page looks at the job. The heavy part of the work is
done by the worker processes that all sessions share.
"""

from __future__ import annotations

import gc
import logging
import threading
import weakref
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from types import TracebackType
from typing import Any, Literal, Protocol

import streamlit as st

from shopsim.app.shared_pool import FairExecutor, SharedPool
from shopsim.app.store import Store
from shopsim.errors import Cancelled, ShopSimError

State = Literal["running", "done", "cancelled", "failed"]

#: Seconds between looks of the page at a job that is running.
LOOK_S = 1.0
#: Seconds that a page waits for a first result before it is drawn without one: what is known is then there at once.
FIRST_S = 0.25

_log = logging.getLogger("shopsim.app")


@st.cache_resource(show_spinner=False)
def shared_workers() -> SharedPool:
    """The worker processes of this server, starting up."""
    gc.collect()
    gc.freeze()  # what is loaded by now stays: no later search for rubbish looks through it, which would hold up all sessions
    workers = SharedPool()
    workers.warm_up()
    return workers


@st.cache_resource(show_spinner=False)
def shared_store() -> Store:
    """The results that this server keeps."""
    return Store()


class Job:
    """One question being worked out.

    ``state``: "running", "done", "cancelled" or "failed". ``result``: the best there is so far, None before the first;
    ``looks``: how many there have been. ``done`` of ``total`` runs of the present stage. ``message``: what went
    wrong, in words. Written by its own thread alone, but for ``cancel``.
    """

    def __init__(self, key: str, work: Callable[[Job], Iterator[Any]], executor: FairExecutor, store: Store) -> None:
        self.key = key
        self.executor, self.store = executor, store
        self.state: State = "running"
        self.result: Any = None
        self.looks = 0
        self.done, self.total = 0, 0
        self.message = ""
        self._work = work
        self._stop = threading.Event()
        self._news = threading.Event()
        self._ended = threading.Event()

    def start(self) -> None:
        """Begin, in a thread of its own that does not hold up the end of the server."""
        threading.Thread(target=self._run, name="shopsim job", daemon=True).start()

    def cancel(self) -> None:
        """Ask it to stop: it ends soon, with what it has."""
        self._stop.set()

    def should_stop(self) -> bool:
        """Whether it was asked to stop; for the work."""
        return self._stop.is_set()

    def tell(self, done: int, total: int) -> None:
        """How far the present stage is; for the work."""
        self.done, self.total = done, total

    def wait_for_first(self, seconds: float) -> None:
        """Wait until there is a result or an end, or so many seconds."""
        self._news.wait(seconds)

    def wait(self, seconds: float) -> None:
        """Wait until it has ended, or so many seconds."""
        self._ended.wait(seconds)

    def _run(self) -> None:
        with _Ending(self):
            for result in self._work(self):
                self.result = result
                self.looks += 1
                self.executor.urgent = False
                self._news.set()
            self.state = "cancelled" if self.should_stop() else "done"
        self.executor.urgent = False
        self._news.set()
        self._ended.set()


@dataclass(frozen=True)
class JobSnapshot:
    """How a job stood at one moment, so that all of a page is drawn from the same result.

    ``state``, ``result``, ``looks`` and ``message`` as in ``Job``.
    """

    job: Job
    state: State
    result: Any
    looks: int
    message: str

    @classmethod
    def at(cls, job: Job) -> JobSnapshot:
        """The job as it stands now. The state is read first: what ended before has its last result by then."""
        state = job.state
        looks = job.looks
        return cls(job, state, job.result, looks, job.message)

    @property
    def is_behind(self) -> bool:
        """Whether the job has come further since."""
        return self.job.state != self.state or self.job.looks != self.looks


class _Ending:
    """Where a job's thread ends: whatever stopped the work becomes a state and a message, since nobody above hears of it."""

    def __init__(self, job: Job) -> None:
        self.job = job

    def __enter__(self) -> None:
        return None

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> bool:
        if error is None:
            return True
        job = self.job
        if isinstance(error, Cancelled) or job.should_stop():
            job.state = "cancelled"
            return True
        if isinstance(error, ShopSimError):
            job.message = str(error)
        elif isinstance(error, MemoryError):
            job.message = "There is not enough memory for this. Ask for fewer runs, orders or pieces."
        else:
            job.message = (
                "This could not be worked out, by a fault of the program and not of yours. "
                "What happened stands in the server's log; please tell whoever looks after it."
            )
            _log.error("a job failed", exc_info=(type(error), error, trace))
        job.state = "failed"
        return True


class BackgroundWork(Protocol):
    """What can be worked out: ``key`` names it with all that it depends on; ``work`` gives result after result, each better."""

    @property
    def key(self) -> str: ...

    def work(self, job: Job) -> Iterator[Any]: ...


class _Handle:
    """A session's hold on a job. When the session is gone, so is this, and the job is told to stop."""

    def __init__(self, job: Job) -> None:
        self.job = job
        weakref.finalize(self, job.cancel)


def follow(slot: str, asked: BackgroundWork) -> JobSnapshot:
    """How the job stands for what is asked in one place of a page: the one at work on it, or a new one in place of an older one.

    ``slot``: the place; ``asked``: what is to be worked out. Waits a moment, so that what is known already is there at once.
    """
    name = f"shopsim job {slot}"
    held = st.session_state.get(name)
    if isinstance(held, _Handle) and held.job.key == asked.key:
        return JobSnapshot.at(held.job)
    if isinstance(held, _Handle):
        held.job.cancel()
    job = Job(asked.key, asked.work, shared_workers().open_share(), shared_store())
    st.session_state[name] = _Handle(job)
    job.start()
    job.wait_for_first(FIRST_S)
    return JobSnapshot.at(job)


def start_again(slot: str) -> None:
    """Forget the job of a place, so that the question is worked out anew."""
    held = st.session_state.pop(f"shopsim job {slot}", None)
    if isinstance(held, _Handle):
        held.job.cancel()


def watch(slot: str, snapshot: JobSnapshot) -> None:
    """Draw how far a job is, with a button to stop it; the page is drawn again when there is something new."""
    if snapshot.state == "running":
        _watch_running(slot, snapshot)
    elif snapshot.state == "cancelled":
        _draw_cancelled(slot, snapshot)
    elif snapshot.state == "failed":
        st.error(snapshot.message.replace("\n", "  \n"))
        if st.button("Try again", key=f"{slot} again"):
            start_again(slot)
            st.rerun()


def _watch_running(slot: str, snapshot: JobSnapshot) -> None:
    job = snapshot.job

    def glance() -> None:
        if snapshot.is_behind:
            st.rerun()
        share = min(1.0, job.done / job.total) if job.total else 0.0
        unknown = "beginning" if snapshot.result is None else "searching"
        told = f"{job.done:,} of at most {job.total:,} runs" if job.total else unknown
        what = "Still counting: the ranges below get narrower" if snapshot.result is not None else "Working it out"
        st.progress(share, text=f"{what} ({told}).")
        if st.button("Stop here", key=f"{slot} stop", help="Ends the work and keeps what there is."):
            job.cancel()
            job.wait(2.0)
            st.rerun()

    st.fragment(glance, run_every=LOOK_S)()


def _draw_cancelled(slot: str, snapshot: JobSnapshot) -> None:
    kept = (
        "What is below rests on the runs that were finished."
        if snapshot.result is not None
        else "Nothing is kept of it."
    )
    with st.container(horizontal=True, vertical_alignment="center"):
        st.warning(f"Stopped before the end. {kept}", width="stretch")
        if st.button("Go on", key=f"{slot} again"):
            start_again(slot)
            st.rerun()


__all__ = ["Job", "JobSnapshot", "follow", "shared_store", "shared_workers", "start_again", "watch"]
