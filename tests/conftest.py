"""How many examples the property tests try: hundreds, or as many as ``--examples`` says; the same ones where CI is set."""

from __future__ import annotations

import os

import pytest
from hypothesis import HealthCheck, settings

DEFAULT_EXAMPLES = 200


def pytest_addoption(parser: pytest.Parser) -> None:
    """Adds ``--examples``."""
    parser.addoption(
        "--examples",
        type=int,
        default=DEFAULT_EXAMPLES,
        help=f"examples that each property test tries (default {DEFAULT_EXAMPLES})",
    )


def pytest_configure(config: pytest.Config) -> None:
    """Loads a profile without time limits: a run of the shop takes as long as it takes."""
    settings.register_profile(
        "shop",
        max_examples=config.getoption("--examples"),
        deadline=None,
        derandomize=bool(os.environ.get("CI")),
        print_blob=True,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
    )
    settings.load_profile("shop")


@pytest.fixture(autouse=True)
def _usual_width(monkeypatch: pytest.MonkeyPatch) -> None:
    """Commands print as they do where nobody has set a width; a test runner's own width is not the user's."""
    monkeypatch.delenv("COLUMNS", raising=False)
