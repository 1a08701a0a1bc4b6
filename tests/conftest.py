"""How long tests take that can take any time: ``--examples`` of property tests (the same ones where CI is set), ``--hours``."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator

import pytest
from hypothesis import HealthCheck, settings

DEFAULT_EXAMPLES = 200
DEFAULT_MUTANTS = 300


def pytest_addoption(parser: pytest.Parser) -> None:
    """Adds ``--examples`` and ``--hours``."""
    parser.addoption(
        "--examples",
        type=int,
        default=DEFAULT_EXAMPLES,
        help=f"examples that each property test tries (default {DEFAULT_EXAMPLES})",
    )
    parser.addoption(
        "--mutants",
        type=int,
        default=DEFAULT_MUTANTS,
        help=f"mutated files that are read and run (default {DEFAULT_MUTANTS})",
    )
    parser.addoption(
        "--hours",
        type=float,
        default=0.0,
        help="how long studies are run one after the other to see whether anything is left behind (default: half a minute)",
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


@pytest.fixture(autouse=True)
def _same_main_module() -> Iterator[None]:
    """Pages drawn without a browser put themselves in place of the main module, which worker processes would then run."""
    main = sys.modules["__main__"]
    yield
    sys.modules["__main__"] = main
