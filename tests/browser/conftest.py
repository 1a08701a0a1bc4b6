"""A server of the app, and a real browser that drives it.

The browser is the one that ``SHOPSIM_BROWSER`` names, else a Chromium or Chrome on the path. With the variable set,
a browser that does not start is a failure; without it, and without a browser on the machine, these tests are
reported as skipped.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

TOP = Path(__file__).resolve().parents[2]
NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
#: The longest that anything is waited for: a busy machine is no fault.
PATIENCE_MS = 60_000
#: Width and height of a laptop's and of a phone's screen.
LAPTOP, PHONE = (1280, 900), (390, 844)


def find_browser() -> str | None:
    """Path of the browser, None where there is none."""
    named = os.environ.get("SHOPSIM_BROWSER")
    return named or next((found for found in map(shutil.which, NAMES) if found), None)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    path = find_browser()
    if path is None:
        pytest.skip("no Chromium or Chrome on this machine; install one, or name it in SHOPSIM_BROWSER")
    with sync_playwright() as playwright:
        found = playwright.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield found
        found.close()


@pytest.fixture(scope="session")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of the app, started as README says with ``streamlit run app.py``; drafts in a folder of its own."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    folder = tmp_path_factory.mktemp("app")
    address = f"http://127.0.0.1:{port}"
    with (folder / "server.log").open("wb") as log:
        server = subprocess.Popen(
            [sys.executable, "-m", "streamlit", "run", "app.py", "--server.port", str(port)],
            cwd=TOP, stdout=log, stderr=subprocess.STDOUT, env={**os.environ, "SHOPSIM_APP_FOLDER": str(folder / "drafts")},
        )  # fmt: skip
        try:
            _wait_for(server, address, folder / "server.log")
            yield address
        finally:
            server.terminate()
            server.wait(30)
    assert "Traceback" not in (folder / "server.log").read_text(encoding="utf-8", errors="replace")


def _wait_for(server: subprocess.Popen[bytes], address: str, log: Path) -> None:
    for _ in range(600):
        if server.poll() is not None:
            break
        try:
            with urllib.request.urlopen(f"{address}/_stcore/health", timeout=5):
                return
        except (urllib.error.URLError, OSError):
            time.sleep(0.1)
    raise AssertionError(f"the app did not start: {log.read_text(encoding='utf-8', errors='replace')}")


@pytest.fixture
def new_page(browser: Browser, app: str) -> Iterator[Callable[..., Page]]:
    """Opens the app in a browser of its own, as another person or another device would."""
    contexts = []

    def open_one(path: str = "", size: tuple[int, int] = LAPTOP, scheme: str = "light") -> Page:
        context = browser.new_context(
            viewport={"width": size[0], "height": size[1]},
            color_scheme="dark" if scheme == "dark" else "light",
            accept_downloads=True,
        )
        contexts.append(context)
        context.set_default_timeout(PATIENCE_MS)
        context.set_default_navigation_timeout(PATIENCE_MS)
        page = context.new_page()
        page.goto(f"{app}/{path}")
        settle(page)
        return page

    yield open_one
    for context in contexts:
        context.close()


#: Nothing on the page is out of date, and nothing is on its way from one look to another.
AT_REST = """() => !document.querySelector('[data-stale="true"]') && document.getAnimations().every(
  (one) => one.playState !== "running" || one.effect.getComputedTiming().endTime === Infinity
)"""


def settle(page: Page) -> None:
    """Wait until the page has been drawn whole and nothing is on its way."""
    page.wait_for_selector('[data-testid="stApp"][data-test-connection-state="CONNECTED"]')
    page.wait_for_timeout(250)
    page.wait_for_selector('[data-testid="stApp"][data-test-script-state="notRunning"]')
    page.wait_for_timeout(250)
    page.wait_for_function(AT_REST)


def press(page: Page, name: str) -> None:
    """Press a button, and wait for what follows."""
    page.get_by_role("button", name=name, exact=True).first.click()
    settle(page)


def go_to(page: Page, title: str) -> None:
    """Go to another page by the menu."""
    menu = page.get_by_test_id("stSidebarNav")
    if not menu.is_visible():
        page.get_by_test_id("stExpandSidebarButton").click()
    page.mouse.move(2, 2)  # off whatever it hovers over, whose explanation may lie over the menu
    menu.get_by_role("link", name=title, exact=True).click()
    page.get_by_role("heading", name=title, level=1, exact=True).wait_for()
    settle(page)


def begin_with(page: Page, example: str) -> None:
    """Start from an example, by the words that begin its description."""
    page.get_by_text(example).first.click()
    settle(page)
    press(page, "Start from this example")
    page.get_by_role("heading", name="You are working on").wait_for()


def write_file(page: Page, text: str) -> None:
    """Put a text in the place of the scenario's, as somebody does who pastes it."""
    box = page.get_by_role("textbox", name="Text of")
    if not box.is_visible():
        page.get_by_text("The file itself").click()
    box.fill(text)
    box.press("Control+Enter")
    settle(page)
    press(page, "Apply this text")


def main_text(page: Page) -> str:
    """What stands on the page, without the menu."""
    return page.get_by_test_id("stMain").inner_text()
