"""``python -m shopsim.app.worker_process``: does the calls that come in on standard input, and hands back what came of each.

A program of its own, so that it loads no page and no more than it needs; it ends when its input does.
"""

from __future__ import annotations

import os
import pickle
import sys
from types import TracebackType
from typing import Any

from shopsim.engine.compiling import want_compiled
from shopsim.errors import RunError
from shopsim.study.chunks import begin_worker

#: Runs that are to come, so many that the compiled floor pays.
ALL = 10**9


class _Attempt:
    """A call, and the error it ended with, if any: whoever asked for it is to have that."""

    error: BaseException | None = None

    def __enter__(self) -> _Attempt:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> bool:
        self.error = error
        return isinstance(error, Exception)


def do_call(data: bytes) -> bytes:
    """(result, error) of a call, pickled; ``data``: function, arguments, named arguments, pickled."""
    result: Any = None
    with _Attempt() as attempt:
        call, args, named = pickle.loads(data)
        result = call(*args, **named)
    with _Attempt() as packing:
        packed = pickle.dumps((result, attempt.error))
    if packing.error is not None:
        packed = pickle.dumps((None, RunError(f"what came of it cannot be handed back: {packing.error}")))
    return packed


def main() -> None:
    """Read, do, write, until the input ends. Each message is its length in eight bytes, then as many bytes."""
    begin_worker(int(sys.argv[1]))
    want_compiled(ALL, 1)  # before anybody asks, and not in the middle of an answer
    source, sink = sys.stdin.buffer, os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what anything prints goes to the log
    while head := source.read(8):
        packed = do_call(source.read(int.from_bytes(head, "big")))
        try:
            sink.write(len(packed).to_bytes(8, "big") + packed)
            sink.flush()
        except BrokenPipeError:  # the server has ended meanwhile: nobody wants the answer, and there is nothing to tidy
            os._exit(0)


if __name__ == "__main__":
    main()
