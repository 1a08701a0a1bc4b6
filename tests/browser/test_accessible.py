"""It holds that axe-core, a general checker of accessibility rules, finds no serious fault on any page, light and dark."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from .conftest import PATIENCE_MS, PHONE, begin_with, settle

pytestmark = pytest.mark.slow

PAGES = (
    "", "glance", "shop", "piece", "orders", "batches", "clamps", "delivery", "holdups", "buying", "worth", "days", "one_run", "times", "bench", "now",
)  # fmt: skip
#: Parts that are the frame's own and not our content: its header, and the canvas in which it draws tables of cells.
NOT_OURS = [
    '[data-testid="stHeader"]',
    '[data-testid="stToolbar"]',
    '[data-testid="stDataFrame"]',
    ".js-plotly-plot",
]


def faults_of(page: Page) -> list[str]:
    """Serious and critical faults that stay, each with its rule and the first places; colours that are just changing are none."""
    found = faults_now(page)
    for _ in range(3):
        if found:
            page.wait_for_timeout(1000)
            settle(page)
            found = faults_now(page)
    return found


def faults_now(page: Page) -> list[str]:
    """The like at this moment."""
    context = {"exclude": [[place] for place in NOT_OURS]}
    found = Axe().run(page, context=context).response["violations"]
    return [
        f"{fault['id']}: {fault['help']} ({'; '.join(str(node['html'])[:200] for node in fault['nodes'][:3])})"
        for fault in found
        if fault["impact"] in ("serious", "critical")
    ]


@pytest.mark.parametrize(("scheme", "size"), [("light", (1280, 900)), ("dark", (1280, 900)), ("light", PHONE)])
def test_no_page_has_a_serious_fault(new_page: Callable[..., Page], scheme: str, size: tuple[int, int]) -> None:
    page = new_page(scheme=scheme, size=size)
    found = {"first visit": faults_of(page)}
    begin_with(page, "Serving trays:")
    address, token = page.url.split("?")[0].rstrip("/"), page.url.split("draft=")[1]
    for name in PAGES:
        page.goto(f"{address}/{name}?draft={token}")
        settle(page)
        if name in ("batches", "clamps", "delivery"):
            expect(page.locator(".st-key-answer-sentence")).to_be_visible(timeout=PATIENCE_MS)
            settle(page)
        found[name] = faults_of(page)
    assert {name: faults for name, faults in found.items() if faults} == {}
