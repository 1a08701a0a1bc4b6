"""Cautions are there for the work that can hurt, short, and defer to those who know."""

from __future__ import annotations

from shopsim.scenario import CAUTIONS


def test_every_kind_of_work_that_can_hurt_has_a_short_caution_that_defers() -> None:
    assert set(CAUTIONS) == {
        "oily rags",
        "solvent fumes",
        "table saw",
        "small parts",
        "router",
        "dust",
        "wood species",
        "noise",
        "lifting",
        "glue-up",
        "fatigue",
    }
    for text in CAUTIONS.values():
        assert "Local codes and the makers' own instructions come first." in text
        assert 80 < len(text) < 420


def test_rags_are_spread_out_and_never_heaped() -> None:
    text = CAUTIONS["oily rags"]
    assert "catch fire" in text
    assert "Never leave them in a heap" in text
    assert "local disposal rules" in text
