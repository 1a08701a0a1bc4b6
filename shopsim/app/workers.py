"""Worker processes that all sessions share: each piece of work in turn, one session after the other, so that all get answers.

Nothing here knows of the page. A worker that dies takes no session with it: new ones are started, and what was under
way is done again, one piece at a time until it is known which one it was.
"""

from __future__ import annotations

import multiprocessing
import os
import threading
from collections import deque
from collections.abc import Callable
from concurrent.futures import BrokenExecutor, Executor, Future, ProcessPoolExecutor
from dataclasses import dataclass, field
from functools import partial
from typing import Any

from shopsim.errors import RunError
from shopsim.study.chunks import begin_worker

#: Pieces of work that are handed to the processes at once, for each of them: one at work, one to go on with.
AT_ONCE = 2
#: How often a piece of work is tried by itself after it was there when a process died.
MOST_TRIES = 2
#: Tasks in the plans that one process keeps ready, about 1.5 kB each.
MOST_TASKS_KEPT = 60_000


@dataclass
class _Piece:
    """One call to be made in a worker process, and the future of whoever asked for it."""

    call: Callable[..., Any]
    args: tuple[Any, ...]
    named: dict[str, Any]
    future: Future[Any]
    tries: int = 0
    suspect: bool = False
    pool: ProcessPoolExecutor | None = field(default=None, repr=False)


class Workers:
    """At most ``count`` processes, started when first needed. ``open_share`` gives each job an executor of its own."""

    def __init__(self, count: int | None = None) -> None:
        self.count = count or os.cpu_count() or 1
        self._lock = threading.RLock()
        self._urgent: deque[tuple[Share, deque[_Piece]]] = deque()
        self._waiting: deque[tuple[Share, deque[_Piece]]] = deque()
        self._suspects: deque[_Piece] = deque()
        self._under_way: set[int] = set()
        self._pool: ProcessPoolExecutor | None = None
        self._handing_out = self._look_again = False

    def open_share(self) -> Share:
        """An executor for one job: its pieces take turns with those of all other shares."""
        return Share(self)

    def warm_up(self) -> None:
        """Start the processes, so that the first question need not wait for them; returns at once."""
        share = self.open_share()
        for _ in range(self.count):
            share.submit(os.getpid)

    def close(self) -> None:
        """End the processes; what is still waiting is cancelled."""
        with self._lock:
            queued = [*self._urgent, *self._waiting]
            left = [piece for _, pieces in queued for piece in pieces] + list(self._suspects)
            self._urgent.clear()
            self._waiting.clear()
            self._suspects.clear()
            pool, self._pool = self._pool, None
        for piece in left:
            piece.future.cancel()
        if pool is not None:
            pool.shutdown(wait=True, cancel_futures=True)

    def add(self, share: Share, piece: _Piece) -> None:
        """Put a piece of work at the end of a share's own queue."""
        with self._lock:
            queue = self._urgent if share.urgent else self._waiting
            for owner, pieces in queue:
                if owner is share:
                    pieces.append(piece)
                    break
            else:
                queue.append((share, deque([piece])))
        self._hand_out()

    @property
    def waiting_shares(self) -> int:
        """How many shares have urgent work waiting: so many first looks are under way at once."""
        with self._lock:
            return len(self._urgent)

    def _next(self) -> _Piece | None:
        """The piece whose turn it is; suspects first, each while nothing else is at work, and then what is urgent."""
        if self._suspects:
            return self._suspects.popleft() if not self._under_way else None
        for queue in (self._urgent, self._waiting):
            while queue:
                share, pieces = queue.popleft()
                piece = pieces.popleft()
                if pieces:
                    queue.append((share, pieces))
                if piece.future.set_running_or_notify_cancel():
                    return piece
        return None

    def _hand_out(self) -> None:
        """Keep the processes busy, and no more than busy, so that a new share's turn comes soon."""
        with self._lock:
            if self._handing_out:  # whoever is at it looks again
                self._look_again = True
                return
            self._handing_out = True
        while True:
            with self._lock:
                room = len(self._under_way) < (1 if self._suspects else AT_ONCE * self.count)
                piece = self._next() if room else None
                if piece is None and not self._look_again:
                    self._handing_out = False
                    return
                self._look_again = False
                if piece is None:
                    continue
                self._under_way.add(id(piece))
                inner = self._start(piece)
            inner.add_done_callback(partial(self._take_in, piece))

    def _start(self, piece: _Piece) -> Future[Any]:
        if self._pool is None:
            context = multiprocessing.get_context("spawn")
            self._pool = ProcessPoolExecutor(
                self.count, mp_context=context, initializer=begin_worker, initargs=(MOST_TASKS_KEPT,)
            )
        piece.pool = self._pool
        try:
            return self._pool.submit(piece.call, *piece.args, **piece.named)
        except RuntimeError as error:  # broken since, or the server is going down
            inner: Future[Any] = Future()
            inner.set_exception(error)
            return inner

    def _take_in(self, piece: _Piece, inner: Future[Any]) -> None:
        """A piece is done, has failed, or was there when a process died."""
        error = inner.exception() if not inner.cancelled() else BrokenExecutor("cancelled")
        with self._lock:
            self._under_way.discard(id(piece))
            broken = isinstance(error, BrokenExecutor)
            if broken:
                if self._pool is piece.pool and piece.pool is not None:
                    self._pool = None
                    piece.pool.shutdown(wait=False, cancel_futures=True)
                piece.tries += piece.suspect
                if piece.tries < MOST_TRIES:
                    piece.suspect = True
                    self._suspects.append(piece)
        if broken and piece.tries >= MOST_TRIES:
            error = RunError(
                "the process that worked on this was ended from outside, twice; it may have run out of memory "
                "· ask for fewer orders or pieces, or free some memory"
            )
        if error is None:
            piece.future.set_result(inner.result())
        elif not broken or piece.tries >= MOST_TRIES:
            piece.future.set_exception(error)
        self._hand_out()


class Share(Executor):
    """What one job submits to; see ``Workers``. The runner of studies takes it like any other executor.

    ``urgent``: what is submitted from now on goes before all that is not; for first looks, which are short.
    """

    def __init__(self, workers: Workers) -> None:
        self.workers = workers
        self.urgent = True

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        """A call of ``fn`` in a worker process, when it is this share's turn."""
        future: Future[Any] = Future()
        self.workers.add(self, _Piece(fn, args, kwargs, future))
        return future

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """Nothing to end: the processes are those of all sessions."""
