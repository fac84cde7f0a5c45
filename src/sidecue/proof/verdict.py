"""What came of proving one procedure."""

from __future__ import annotations

from dataclasses import dataclass, field

from sidecue.proof.cases import Sample
from sidecue.proof.exploring import Violation


@dataclass
class Proof:
    """What came of proving one procedure. `explored` counts distinct plans; `states` and
    `transitions` are summed over them; `tried` is what the machine itself was asked. `samples` are
    variants that between them have every two steps that meet in one."""

    procedure: str
    variants: int = 0
    refused: int = 0
    unmade: int = 0
    distinct: int = 0
    explored: int = 0
    states: int = 0
    transitions: int = 0
    tried: int = 0
    seconds: float = 0.0  # of work, summed over processes
    violations: list[tuple[str, Violation]] = field(default_factory=list)  # variant, violation
    samples: tuple[Sample, ...] = ()
    remembered: bool = False  # walked before, and unchanged since (see `remembering`)

    @property
    def sound(self) -> bool:
        """Whether every plan was explored, and all of it holds."""
        return not self.violations and not self.unmade and self.explored == self.distinct
