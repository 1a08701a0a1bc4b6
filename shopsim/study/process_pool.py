"""Worker processes for studies: begun at once or once they pay, replaced when killed, ended with their block."""

from __future__ import annotations

import logging
import multiprocessing
import signal
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from contextlib import contextmanager
from typing import Any

from shopsim.errors import InputError, RunError
from shopsim.study.chunks import begin_worker

_log = logging.getLogger(__name__)

#: How often a study is taken up again after a worker process was killed.
MAX_RESTARTS = 3
#: Seconds that it takes until worker processes have begun, about; a patient pool lets them begin where that pays.
BEGIN_S = 2.0


@contextmanager
def open_workers(jobs: int, patient: bool = False) -> Iterator[Executor | None]:
    """Worker processes for several studies in a row; None for ``jobs`` = 1, which means: in this process.

    Each starts a fresh Python (about a second), so a script that uses them keeps its
    work under ``if __name__ == "__main__":``. They end with the block, also after Ctrl-C.
    ``patient``: they are begun only once the work turns out to be worth it; until then runs are made here.
    """
    check_jobs(jobs)
    if jobs == 1:
        yield None
        return
    pool = ProcessPool(jobs, patient)
    try:
        yield pool
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


@contextmanager
def _ctrl_c_kept_from_children() -> Iterator[None]:
    """Processes begun in the block never see Ctrl-C, not even while they load; this one sees it afterwards."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


class ProcessPool(Executor):
    """Worker processes that can be replaced when one of them was killed."""

    def __init__(self, jobs: int, patient: bool = False) -> None:
        self.jobs = jobs
        self.restarts = 0
        #: Whether processes have not begun, nor should while what is made here instead is short.
        self.waits = patient
        self.spent_here = 0.0
        self._inner = self._start()

    def _start(self) -> ProcessPoolExecutor:
        context = multiprocessing.get_context("spawn")
        return ProcessPoolExecutor(self.jobs, mp_context=context, initializer=begin_worker)

    def pays(self, seconds_left: float) -> bool:
        """Whether processes should begin, with so much work left in this study were it done here."""
        return (self.spent_here + seconds_left) * (1 - 1 / self.jobs) > BEGIN_S

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        self.waits = False
        with _ctrl_c_kept_from_children():  # a process is begun when there is something for it to do
            return self._inner.submit(fn, *args, **kwargs)

    def restart(self) -> None:
        """New processes in place of broken ones; RunError when it has come to that too often."""
        self._inner.shutdown(wait=True, cancel_futures=True)
        self.restarts += 1
        if self.restarts > MAX_RESTARTS:
            raise RunError(
                f"worker processes were ended from outside {self.restarts} times "
                "· free some memory or use fewer jobs; a script of your own must start its work under "
                'if __name__ == "__main__":'
            )
        _log.warning("a worker process was ended from outside; the runs it was at are made again")
        self._inner = self._start()

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        self._inner.shutdown(wait=wait, cancel_futures=cancel_futures)


def check_jobs(jobs: int) -> None:
    """InputError unless ``jobs`` is a whole number from 1 to 1024."""
    if isinstance(jobs, bool) or not isinstance(jobs, int) or not 1 <= jobs <= 1024:
        raise InputError(f"jobs = {jobs!r} is not a number of processes · write a whole number from 1 to 1024")
