"""Work that makes no garbage which waits for the collector, done without it: looking for it costs more than a third."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def without_collector() -> Iterator[None]:
    """Switch the collector off for the while, if it was on; a decorator too."""
    collecting = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collecting:
            gc.enable()
