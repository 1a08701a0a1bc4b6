"""The processor cores that a command uses: as many as were asked for, those of a cluster, or all of them where the work is worth it."""

from __future__ import annotations

import argparse
import logging
import os
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from shopsim.errors import InputError
from shopsim.limits import MAX_JOBS
from shopsim.study import open_workers
from shopsim.study.cluster import open_cluster


def default_jobs() -> int:
    """The cores this process may use, at most MAX_JOBS."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return max(1, min(cores, MAX_JOBS))


@contextmanager
def choose_cores(args: argparse.Namespace) -> Iterator[dict[str, Any]]:
    """Options of an answer that say where its runs are made: ``jobs``, and workers that begin once they pay; or a cluster."""
    if args.cluster is not None:
        if args.jobs is not None:
            raise InputError(
                "--cluster · the workers there say how many cores are used · leave out --jobs, or --cluster"
            )
        logging.getLogger("distributed").setLevel(logging.CRITICAL)  # what matters of it is said in words of ours
        with open_cluster(args.cluster) as cluster:
            yield {"executor": cluster}
        return
    if args.jobs is not None:
        yield {"jobs": args.jobs}
        return
    jobs = default_jobs()
    with open_workers(jobs, patient=True) as pool:
        yield {"jobs": jobs, "executor": pool}
