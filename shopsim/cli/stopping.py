"""Ctrl-C as a wish, not a crash: the work ends at the next good moment; and a bar that shows how far it is."""

from __future__ import annotations

import signal
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn


class Stop:
    """Whether the user has asked to stop. ``asked`` is given to a study as ``should_stop``."""

    def __init__(self) -> None:
        self._event = threading.Event()

    def asked(self) -> bool:
        """True from the first Ctrl-C on."""
        return self._event.is_set()

    def ask(self, _number: int, _frame: FrameType | None) -> None:
        """Takes a signal: the first is a wish, the second ends the work at once."""
        if self._event.is_set():
            raise KeyboardInterrupt
        self._event.set()


@contextmanager
def listen_for_stop() -> Iterator[Stop]:
    """Takes Ctrl-C (and being told to end) as a wish to stop, while the block runs; only in the main thread."""
    stop = Stop()
    if threading.current_thread() is not threading.main_thread():
        yield stop
        return
    before = {number: signal.signal(number, stop.ask) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield stop
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


@contextmanager
def show_progress(what: str) -> Iterator[Callable[[int, int], None] | None]:
    """A function to tell of runs done and asked for, drawn as a bar on standard error; None where it is no terminal."""
    if not sys.stderr.isatty():
        yield None
        return
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what, total=None)

        def tell(done: int, total: int) -> None:
            bar.update(task, completed=done, total=total)

        yield tell
