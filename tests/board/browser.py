"""The Chromium of this machine, and how it is started and sent to a page."""

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


def reach(page, url, wait):
    """Open `url`, trying for `wait` seconds: a program that starts is not there at once."""
    end = time.monotonic() + wait
    while True:
        try:
            page.goto(url)
        except Exception:
            if time.monotonic() > end:
                raise
            time.sleep(0.2)
        else:
            return
