"""The patient's advice in large print: one HTML page, black on white, nothing from outside."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

_STYLE = """
@page { size: A4; margin: 16mm }
body { font: 20pt/1.3 Arial, Helvetica, sans-serif; color: #000; background: #fff;
  max-width: 178mm; margin: 10mm auto }
h1 { font-size: 30pt; margin: 0 0 2mm } .when { font-size: 14pt; margin: 0 0 6mm }
li { margin: 0 0 3.4mm; break-inside: avoid } ul { padding-left: 8mm; margin: 0 }
.draft { border: 1mm double #000; padding: 2mm 4mm; font-size: 15pt }
.call { font-size: 16pt; border-top: .8mm solid #000; padding-top: 3mm; margin-top: 6mm }
"""

DRAFT = "Draft of what is planned. Print it again after the visit, for what was done."


def advice_page(sentences: Sequence[str], when: str, call: str, *, draft: bool = False) -> str:
    """Return the page. `when` names day and practice; `draft` says that nothing is done yet."""
    told = f'<p class="draft">{escape(DRAFT)}</p>' if draft else ""
    lines = "\n".join(f"<li>{escape(each)}</li>" for each in sentences)
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="generator" content="sidecue">'
        f"<title>After your visit</title><style>{_STYLE}</style></head><body>\n"
        f'<h1>After your visit</h1><p class="when">{escape(when)}</p>{told}\n'
        f'<ul>\n{lines}\n</ul>\n<p class="call">{escape(call)}</p>\n</body></html>\n'
    )
