"""Looks at a process the way only Linux tells of it."""

from __future__ import annotations

import sys

collect_ignore = [] if sys.platform == "linux" else ["test_large.py", "test_long.py"]
