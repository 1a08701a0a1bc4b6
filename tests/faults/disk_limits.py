"""What stands in the way of writing, made for the length of a block."""

from __future__ import annotations

import resource
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def room_for(most: int) -> Iterator[None]:
    """No file of this process may grow beyond so many bytes: writing on fails as on a full disk, for anybody's rights.

    Python ignores the signal that goes with it, so the write itself fails, in the middle, with "file too large".
    """
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (most, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
