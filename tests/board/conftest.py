"""One browser for all tests of the board: the Chromium of this machine, offline."""

from __future__ import annotations

import pytest
from browser import CHROMIUM, FLAGS, reach


@pytest.fixture(scope="session")
def chromium():
    if CHROMIUM is None:
        pytest.skip("no chromium on this machine (Debian: chromium)")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        yield browser
        browser.close()


@pytest.fixture
def screen(chromium):
    """Open a board as on a screen of so many pixels; no page may complain of anything."""
    opened, complaints = [], []

    def show(url, width=1920, height=1080, wait=0, live=True, **more):
        size = {"width": width, "height": height}
        context = chromium.new_context(viewport=size, screen=size, **more)
        opened.append(context)
        page = context.new_page()
        page.set_default_timeout(60_000)  # a busy machine is slow, not wrong
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on("console", lambda message: complaints.append(message.text)
                if "Content Security Policy" in message.text else None)  # fmt: skip
        reach(page, url, wait)
        if live:
            page.wait_for_selector("body[data-link=live]")
        return page

    yield show
    for context in opened:
        context.close()
    assert complaints == []
