"""What the clinical layer raises when an input cannot be used."""

from __future__ import annotations


class ClinicalError(ValueError):
    """An input that no clinical rule can accept.

    Fields: `what` is wrong, `why`, and how to `mend` it; `str()` joins them into one line.
    """

    def __init__(self, what: str, why: str, mend: str) -> None:
        super().__init__(f"{what}: {why}; {mend}")
        self.what = what
        self.why = why
        self.mend = mend
