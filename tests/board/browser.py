"""The Chromium of this machine: how it is started, sent to a page and waited for.

A busy machine is slow, not wrong: whatever must come is waited for as long as `PATIENCE`. A page
that is refused or that breaks while it is waited for fails at once, with what it said.
"""

from __future__ import annotations

import shutil
import time

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
FLAGS = (
    "--no-sandbox",  # tests run as root in a container
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
)
PATIENCE = 120.0  # seconds


class PageError(AssertionError):
    """The page itself is wrong, however long it is waited for."""


def launched(playwright):
    """Start the browser."""
    return playwright.chromium.launch(
        executable_path=CHROMIUM, args=list(FLAGS), timeout=PATIENCE * 1000
    )


# What the browser says while nobody answers: that, or that its own error page came in between.
NOBODY = ("ERR_CONNECTION_REFUSED", "chrome-error://")


def opened(browser, url, width=1920, height=1080, wait=0, live=True, complaints=None, **more):
    """Return a page at `url` in a window of its own, as on a screen of `width` x `height` pixels.

    `wait` is how many seconds nobody may answer there (a program that starts); `live`, that the
    board must be connected. What the page complains of is added to `complaints`.
    """
    size = {"width": width, "height": height}
    context = browser.new_context(viewport=size, screen=size, **more)
    page = context.new_page()
    page.set_default_timeout(PATIENCE * 1000)
    said = [] if complaints is None else complaints
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("console", lambda message: said.append(message.text)
            if "Content Security Policy" in message.text else None)  # fmt: skip
    reach(page, url, wait)
    if live:
        arrive(page, "document.body.dataset.link === 'live'", said)
    return page


def reach(page, url, wait=0):
    """Open `url`, trying for `wait` seconds: a program that starts is not there at once."""
    end = time.monotonic() + wait
    while True:
        try:
            answer = page.goto(url, wait_until="domcontentloaded", timeout=PATIENCE * 1000)
        except Exception as error:
            if not any(each in str(error) for each in NOBODY) or time.monotonic() > end:
                raise
            time.sleep(0.2)
        else:
            if answer is not None and not answer.ok:
                raise PageError(f"{url} answers {answer.status}: {answer.text()[:200]}")
            return


def arrive(page, true, complaints=()):
    """Wait until the expression is `true` on the page. A page that breaks fails at once."""
    end = time.monotonic() + PATIENCE
    while not page.evaluate(true):
        if complaints:
            raise PageError("; ".join(complaints))
        if time.monotonic() > end:
            raise PageError(f"never came in {PATIENCE:.0f} s: {true}")
        page.wait_for_timeout(15)


def caught_up(page, chair):
    """Wait until the page shows all that was done in the visit at `chair` so far."""
    chair.settle()
    arrive(page, f"Number(document.body.dataset.page) >= {chair.number}")


def until(true, what="it"):
    """Wait until `true()` outside the browser."""
    end = time.monotonic() + PATIENCE
    while not true():
        assert time.monotonic() < end, f"{what} never came"
        time.sleep(0.002)


def settled(page):
    """Wait until every drawing is there and two frames were drawn since."""
    arrive(page, "document.querySelectorAll('#run .picture:empty').length === 0")
    page.evaluate("() => new Promise((done) => requestAnimationFrame(() => "
                  "requestAnimationFrame(done)))")  # fmt: skip
