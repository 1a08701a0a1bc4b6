"""What has been worked out already, so that nothing is worked out twice."""

from __future__ import annotations

from collections.abc import Hashable
from typing import Any


class Known:
    """Results by a key that says all that they depend on; this one keeps every one of them, for one thread."""

    def __init__(self) -> None:
        self._results: dict[Hashable, Any] = {}

    def get(self, key: tuple[Hashable, ...]) -> Any:
        """What is known under a key, or None."""
        return self._results.get(key)

    def put(self, key: tuple[Hashable, ...], result: Any) -> None:
        """Keep a result, in place of what was there."""
        self._results[key] = result
