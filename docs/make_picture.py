"""Make docs/demo.svg from what `sidecue demo` printed: `make_picture.py DEMO_LOG`."""

from __future__ import annotations

import io
import re
import sys
from pathlib import Path

from rich._export_format import CONSOLE_SVG_FORMAT
from rich.console import Console
from rich.terminal_theme import DEFAULT_TERMINAL_THEME
from rich.text import Text

FROM, TO = "Blow gently until nothing moves.", "Flow a thin lining over the floor."
LAST = 8  # lines of the summary
PAPER = '<rect fill="#ffffff" stroke="#777777" x="1" y="1" width="{width}" height="{height}"/>'


def main() -> None:
    """Write the picture: an unsafe request refused, then the end."""
    lines = Path(sys.argv[1]).read_text("utf-8").splitlines()
    begin = next(number for number, line in enumerate(lines) if FROM in line)
    end = next(number for number, line in enumerate(lines) if TO in line)
    console = Console(record=True, width=92, file=io.StringIO())
    console.print(Text("$ sidecue demo", style="bold"))
    for line in [*lines[begin - 1 : end], "   ...", *lines[-LAST:]]:
        style = "dim" if "ignores" in line else "bold" if "refused]" in line else ""
        console.print(Text(line[:92], style=style))
    picture = str(Path(__file__).with_name("demo.svg"))
    console.save_svg(picture, title="", theme=DEFAULT_TERMINAL_THEME, code_format=_plain())


def _plain() -> str:
    """A frame without window decoration, and with the reader's own fixed-width font."""
    without_fonts = re.sub(r"@font-face \{\{.*?\}\}\s*", "", CONSOLE_SVG_FORMAT, flags=re.DOTALL)
    bare = re.sub(r"<!--.*?-->\s*", "", without_fonts, flags=re.DOTALL)
    return bare.replace("Fira Code", "ui-monospace").replace("{chrome}", "{chrome:.0}" + PAPER)


if __name__ == "__main__":
    main()
