"""Worker processes that all sessions share: each piece of work in turn, one session after the other, so that all get answers.

Nothing here knows of the page, and the processes do not load it: the usual pools of Python start their workers with
whatever script the server happens to be running. A worker that dies takes no session with it: a new one
is started, and what it was at is tried once more.
"""

from __future__ import annotations

import contextlib
import os
import pickle
import subprocess
import sys
import threading
import weakref
from collections import deque
from collections.abc import Callable
from concurrent.futures import Executor, Future
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from shopsim.errors import RunError

#: How often a piece of work is begun, should the process that does it die.
MAX_TRIES = 2
#: Tasks in the plans that one process keeps ready, about 1.5 kB each.
MAX_TASKS_KEPT = 60_000


@dataclass
class _Piece:
    """One call to be made in a worker process, and the future of whoever asked for it."""

    call: Callable[..., Any]
    args: tuple[Any, ...]
    named: dict[str, Any]
    future: Future[Any]
    tries: int = 0


class SharedPool:
    """``count`` processes, by default one for each core, started when first needed; ``open_share`` gives each job an executor of its own."""

    def __init__(self, count: int | None = None) -> None:
        self.count = count or os.cpu_count() or 1
        self._news = threading.Condition()
        self._again: deque[_Piece] = deque()
        self._urgent: deque[tuple[FairExecutor, deque[_Piece]]] = deque()
        self._waiting: deque[tuple[FairExecutor, deque[_Piece]]] = deque()
        self._shares: weakref.WeakSet[FairExecutor] = weakref.WeakSet()
        self._threads: list[threading.Thread] = []
        self._closed = False

    def open_share(self) -> FairExecutor:
        """An executor for one job: its pieces take turns with those of all other shares."""
        share = FairExecutor(self)
        with self._news:
            self._shares.add(share)
        return share

    def warm_up(self) -> None:
        """Start the processes, so that the first question need not wait for them; returns at once."""
        with self._news:
            if self._closed:
                raise RuntimeError("the workers are closed")
            while len(self._threads) < self.count:
                thread = threading.Thread(target=self._serve, name="shopsim worker", daemon=True)
                self._threads.append(thread)
                thread.start()

    def close(self) -> None:
        """End the processes; what is still waiting is cancelled."""
        with self._news:
            self._closed = True
            left = [piece for _, pieces in (*self._urgent, *self._waiting) for piece in pieces]
            self._urgent.clear()
            self._waiting.clear()
            self._news.notify_all()
        for piece in left:
            piece.future.cancel()
        for thread in self._threads:
            thread.join()

    def add(self, share: FairExecutor, piece: _Piece) -> None:
        """Put a piece of work at the end of a share's own queue."""
        self.warm_up()
        with self._news:
            queue = self._urgent if share.urgent else self._waiting
            for owner, pieces in queue:
                if owner is share:
                    pieces.append(piece)
                    break
            else:
                queue.append((share, deque([piece])))
            self._news.notify()

    @property
    def urgent_shares(self) -> int:
        """How many shares are urgent: so many first looks are under way at once."""
        with self._news:
            return sum(share.urgent for share in self._shares)

    def _next(self) -> _Piece | None:
        """The piece whose turn it is: what a dead process left, then what is urgent, each share in turn."""
        if self._again:
            return self._again.popleft()
        for queue in (self._urgent, self._waiting):
            while queue:
                share, pieces = queue.popleft()
                piece = pieces.popleft()
                if pieces:
                    queue.append((share, pieces))
                if piece.future.set_running_or_notify_cancel():
                    return piece
        return None

    def _serve(self) -> None:
        """One thread with one process: takes what is next, has it done, hands back what came of it."""
        process = _start_process()
        while True:
            with self._news:
                piece = None if self._closed else self._next()
                while piece is None and not self._closed:
                    self._news.wait()
                    piece = None if self._closed else self._next()
            if piece is None:
                break
            if not self._do(process, piece):
                _end_process(process)
                process = _start_process()
        _end_process(process)

    def _do(self, process: subprocess.Popen[bytes], piece: _Piece) -> bool:
        """Have a piece done; False if the process died of it, or before it."""
        try:
            data = pickle.dumps((piece.call, piece.args, piece.named))
        except (pickle.PicklingError, AttributeError, TypeError) as error:
            piece.future.set_exception(error)
            return True
        try:
            result, fault = pickle.loads(_exchange(process, data))
        except (EOFError, OSError):
            self._try_again(piece)
            return False
        if fault is not None:
            piece.future.set_exception(fault)
        else:
            piece.future.set_result(result)
        return True

    def _try_again(self, piece: _Piece) -> None:
        piece.tries += 1
        with self._news:
            if piece.tries < MAX_TRIES and not self._closed:
                self._again.append(piece)
                self._news.notify()
                return
        piece.future.set_exception(
            RunError(
                "the process that worked on this was ended from outside; it may have run out of memory "
                "· ask for fewer orders or pieces, or free some memory"
            )
        )


class FairExecutor(Executor):
    """What one job submits to; see ``SharedPool``. The runner of studies takes it like any other executor.

    ``urgent``: what is submitted from now on goes before all that is not; for first looks, which are short.
    """

    def __init__(self, workers: SharedPool) -> None:
        self.workers = workers
        self.urgent = True

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        """A call of ``fn``, which stands at the top of a module, in a worker process, when it is this share's turn."""
        future: Future[Any] = Future()
        self.workers.add(self, _Piece(fn, args, kwargs, future))
        return future

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """Nothing to end: the processes are those of all sessions."""


def _start_process() -> subprocess.Popen[bytes]:
    home = str(Path(__file__).resolve().parents[2])
    path = os.pathsep.join([home, *([os.environ["PYTHONPATH"]] if os.environ.get("PYTHONPATH") else [])])
    return subprocess.Popen(
        [sys.executable, "-m", "shopsim.app.worker_process", str(MAX_TASKS_KEPT)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, env={**os.environ, "PYTHONPATH": path},
    )  # fmt: skip


def _end_process(process: subprocess.Popen[bytes]) -> None:
    """Close its input, at which it ends, and make an end of it if it does not."""
    assert process.stdin is not None
    assert process.stdout is not None
    with contextlib.suppress(OSError):  # it may be gone already
        process.stdin.close()
    try:
        process.wait(2)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
    process.stdout.close()


def _exchange(process: subprocess.Popen[bytes], data: bytes) -> bytes:
    """Hand over one message and wait for the answer; EOFError or OSError if the process is gone."""
    assert process.stdin is not None
    assert process.stdout is not None
    process.stdin.write(len(data).to_bytes(8, "big") + data)
    process.stdin.flush()
    head = process.stdout.read(8)
    length = int.from_bytes(head, "big")
    answer = process.stdout.read(length) if len(head) == 8 else b""
    if len(head) < 8 or len(answer) < length:
        raise EOFError("the worker process is gone")
    return answer
