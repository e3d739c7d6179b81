"""A headless browser for the tests of takeoff.html: opens pages from files and notes every complaint and request.

Tests skip with the reason where playwright or a Chromium is missing. `BAYFILL_CHROMIUM` names another one than
/usr/bin/chromium.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[1]
AXE = ROOT / "reports" / "page" / "node_modules" / "axe-core" / "axe.min.js"
DESKTOP = {"width": 1280, "height": 900}
PHONE = {"width": 390, "height": 844}
ARGUMENTS = ("--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--no-sandbox")


@dataclass
class OpenPage:
    """A page that is ready, with what it complained of and asked for."""

    page: Any
    complaints: list[str] = field(default_factory=list)
    requests: list[str] = field(default_factory=list)

    def run(self, script: str) -> Any:
        """The value of a JavaScript expression; `bayfill` holds state, takeoff, view and tables."""
        return self.page.evaluate(script)

    def pixels(self) -> dict[str, int]:
        """Colours of the 3D view with how many of its pixels have them, after a fresh drawing."""
        return self.run(
            """() => {
              bayfill.view.drawNow();
              const canvas = document.getElementById('canvas');
              const copy = document.createElement('canvas');
              [copy.width, copy.height] = [160, 100];
              const context = copy.getContext('2d');
              context.drawImage(canvas, 0, 0, 160, 100);
              const data = context.getImageData(0, 0, 160, 100).data;
              const counts = {};
              for (let i = 0; i < data.length; i += 4) {
                const key = [data[i], data[i + 1], data[i + 2]].join();
                counts[key] = (counts[key] || 0) + 1;
              }
              return counts;
            }"""
        )


def chromium() -> str:
    """Where a Chromium is; skips the test where none is."""
    path = os.environ.get("BAYFILL_CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
    if not path:
        pytest.skip("no Chromium is installed (apt-get install chromium, or set BAYFILL_CHROMIUM)")
    return path


@contextmanager
def opened_browser(*more: str) -> Iterator[Any]:
    """A headless Chromium with WebGL in software; `more` are further flags of its command line."""
    api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    path = chromium()
    with api.sync_playwright() as driver:
        try:
            browser = driver.chromium.launch(executable_path=path, args=[*ARGUMENTS, *more])
        except api.Error as error:
            pytest.skip(f"{path} does not start: {str(error).splitlines()[0]}")
        try:
            yield browser
        finally:
            browser.close()


def open_page(browser: Any, path: Path, **settings: Any) -> OpenPage:
    """Opens a page file in a window of its own and waits until it says that it is ready."""
    context = browser.new_context(**{"viewport": DESKTOP, "accept_downloads": True, **settings})
    page = context.new_page()
    page.set_default_timeout(30_000)
    opened = OpenPage(page)
    page.on("console", lambda message: opened.complaints.append(f"{message.type}: {message.text}"))
    page.on("pageerror", lambda error: opened.complaints.append(f"error: {error}"))
    page.on("dialog", lambda dialog: (opened.complaints.append(f"dialog: {dialog.message}"), dialog.dismiss()))
    page.on("request", lambda request: opened.requests.append(request.url))
    page.goto(path.resolve().as_uri())
    page.wait_for_selector("html[data-ready=yes]")
    return opened


def close_page(opened: OpenPage) -> None:
    """Closes the page with its window."""
    opened.page.context.close()
