"""The processor cores that a command uses: as many as were asked for, or all of them where the work is worth it."""

from __future__ import annotations

import argparse
import os
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from shopsim.limits import MAX_JOBS
from shopsim.study import open_workers


def default_jobs() -> int:
    """The cores this process may use, at most MAX_JOBS."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return max(1, min(cores, MAX_JOBS))


@contextmanager
def choose_cores(args: argparse.Namespace) -> Iterator[dict[str, Any]]:
    """Options of an answer that say where its runs are made: ``jobs``, and workers that begin once they pay."""
    if args.jobs is not None:
        yield {"jobs": args.jobs}
        return
    jobs = default_jobs()
    with open_workers(jobs, patient=True) as pool:
        yield {"jobs": jobs, "executor": pool}
