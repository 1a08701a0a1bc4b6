"""The version of this program, which every result names."""

from __future__ import annotations

VERSION = "0.1.0"
