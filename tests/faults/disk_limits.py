"""What stands in the way of writing, made for the length of a block."""

from __future__ import annotations

import resource
import sys
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def room_for(most: int) -> Iterator[None]:
    """No file of this process may grow beyond so many bytes: writing on fails as on a full disk, for anybody's rights.

    Python ignores the signal that goes with it, so the write itself fails, in the middle, with "file too large". What
    Python makes of a module that is loaded meanwhile is not kept: it would be kept cut short, and spoil all that comes after.
    """
    kept, sys.dont_write_bytecode = sys.dont_write_bytecode, True
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (most, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        sys.dont_write_bytecode = kept
