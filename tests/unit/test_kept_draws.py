"""Draws that are kept: the same array for the same key, and no more of them than there may be."""

from __future__ import annotations

import numpy as np

from shopsim.engine.kept_draws import KeptDraws


def test_what_was_asked_for_last_is_kept_up_to_so_many_numbers() -> None:
    kept, drawn = KeptDraws(most=10), list[str]()

    def ask(key: str, n: int) -> np.ndarray:
        def draw() -> np.ndarray:
            drawn.append(key)
            return np.arange(n, dtype=np.float64)

        return kept.get(key, draw)

    first = ask("days", 4)
    assert ask("days", 4) is first
    ask("boards", 4)
    ask("days", 4)  # asked for after the boards, so these go first
    ask("oil", 4)
    ask("days", 4)
    ask("boards", 4)
    assert drawn == ["days", "boards", "oil", "boards"]
    ask("more than there may be", 11)
    ask("days", 4)
    assert drawn[-1] == "days"
