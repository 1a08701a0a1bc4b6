"""What the app takes on, so that no file and no control can fill the computer it runs on."""

from __future__ import annotations

from shopsim.scenario.check_size import MOST_OPERATIONS, MOST_PIECES, MOST_TASKS
from shopsim.scenario.text import LARGEST_FILE

#: The largest upload, in megabytes: the server refuses more before anything reads it.
LARGEST_UPLOAD_MB = 5
#: Files beside a scenario (orders, tables of their own), how many and how many bytes together.
MOST_BESIDE = 10
LARGEST_BESIDE = 3_000_000
#: Runs with luck that one answer may ask for.
MOST_REPLICATIONS = 5_000
#: Drafts kept on the disk: how many, how many bytes together, and for how many days after the last change.
MOST_DRAFTS = 100
LARGEST_FOLDER = 200_000_000
OLDEST_DAYS = 90
#: Drafts held in memory at once; the others are read from the disk when they are asked for.
MOST_IN_MEMORY = 50
#: Characters that the remembered values of one draft's controls may take.
LARGEST_VALUES = 2_000_000
#: Rows of one table that can be edited on a page; a longer one is changed in the file itself.
MOST_ROWS = 300

__all__ = [
    "LARGEST_BESIDE", "LARGEST_FILE", "LARGEST_FOLDER", "LARGEST_UPLOAD_MB", "LARGEST_VALUES", "MOST_BESIDE",
    "MOST_DRAFTS", "MOST_IN_MEMORY", "MOST_OPERATIONS", "MOST_PIECES", "MOST_REPLICATIONS", "MOST_ROWS", "MOST_TASKS",
    "OLDEST_DAYS",
]  # fmt: skip
