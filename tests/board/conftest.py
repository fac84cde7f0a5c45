"""One browser for all tests of the board: the Chromium of this machine, offline."""

from __future__ import annotations

import pytest
from browser import CHROMIUM, launched, opened


@pytest.fixture(scope="session")
def chromium():
    if CHROMIUM is None:
        pytest.skip("no chromium on this machine (Debian: chromium)")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = launched(playwright)
        yield browser
        browser.close()


@pytest.fixture
def screen(chromium):
    """Open a board as on a screen of so many pixels; no page may complain of anything."""
    pages, complaints = [], []

    def show(url, *size, **more):
        pages.append(opened(chromium, url, *size, complaints=complaints, **more))
        return pages[-1]

    yield show
    for page in pages:
        page.context.close()
    assert complaints == []
