"""Renders drawings in a browser and hands their ink back as arrays."""

from __future__ import annotations

import html
import json
import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import numpy.typing as npt

Ink = npt.NDArray[np.float64]

# 120 x 60 units at 64 x 32 pixels. Six centimetres at two metres subtend 103 arcmin, so a pixel is
# 1.6 arcmin: coarser than the 1 arcmin that 6/6 sight resolves (ISO 8596, from memory). What
# differs here can be seen there.
WIDTH, HEIGHT = 64, 32
# The same at 2 units a pixel with three pixels of margin, to find ink beyond the frame.
FRAME_WIDTH, FRAME_HEIGHT, FRAME_MARGIN = 66, 36, 3
FRAME_VIEW = "-6 -6 132 72"

_PAGE = """<!doctype html><meta charset="utf-8"><body><pre id="ink">pending</pre><script>
const jobs = %s;
async function ink(job) {
  const image = new Image();
  image.src = "data:image/svg+xml;charset=utf-8," + encodeURIComponent(job.svg);
  await image.decode();
  const canvas = document.createElement("canvas");
  canvas.width = job.width; canvas.height = job.height;
  const pen = canvas.getContext("2d");
  pen.drawImage(image, 0, 0, job.width, job.height);
  const data = pen.getImageData(0, 0, job.width, job.height).data;
  return Array.from({length: job.width * job.height}, (_, k) => data[4 * k + 3]);
}
Promise.all(jobs.map(ink)).then(
  all => { document.getElementById("ink").textContent = JSON.stringify(all); },
  fault => { document.getElementById("ink").textContent = "fault: " + fault; });
</script>"""


def browser() -> str | None:
    """Return the path of a headless-capable browser, or None."""
    return shutil.which("chromium") or shutil.which("chromium-browser")


def render(small: list[str], framed: list[str], scratch: Path) -> tuple[list[Ink], list[Ink]]:
    """Return the ink, 0 to 1, of two lists of drawings, in the order given.

    `small` comes back as HEIGHT x WIDTH; `framed` with a margin around the frame, as FRAME_HEIGHT
    x FRAME_WIDTH. One browser draws them all.
    """
    opened = [m.replace('viewBox="0 0 120 60"', f'viewBox="{FRAME_VIEW}"') for m in framed]
    jobs = [_job(m, WIDTH, HEIGHT) for m in small]
    jobs += [_job(m, FRAME_WIDTH, FRAME_HEIGHT) for m in opened]
    rows = _draw(json.dumps(jobs), scratch)
    inks = [np.array(each, dtype=np.float64) / 255 for each in rows]
    return (
        [each.reshape(HEIGHT, WIDTH) for each in inks[: len(small)]],
        [each.reshape(FRAME_HEIGHT, FRAME_WIDTH) for each in inks[len(small) :]],
    )


def _job(markup: str, width: int, height: int) -> dict[str, str | int]:
    sized = markup.replace("<svg ", f'<svg width="{width}" height="{height}" ', 1)
    return {"svg": sized, "width": width, "height": height}


def _draw(jobs: str, scratch: Path) -> list[list[int]]:
    program = browser()
    assert program is not None
    page = scratch / "drawings.html"
    page.write_text(_PAGE % jobs.replace("</", "<\\/"), encoding="utf-8")
    command = [program, "--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"]
    command += [f"--user-data-dir={scratch / 'profile'}", "--virtual-time-budget=60000"]
    command += ["--dump-dom", page.as_uri()]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=True)
    found = re.search(r'<pre id="ink">(.*?)</pre>', done.stdout, re.DOTALL)
    assert found, f"the browser returned no page: {done.stderr[-500:]}"
    text = html.unescape(found.group(1))
    assert text.startswith("["), f"the browser could not draw: {text[:200]}"
    rows: list[list[int]] = json.loads(text)
    return rows
