"""`sidecue check`: prove the procedures."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeElapsedColumn
from rich.text import Text

from sidecue.cli.listening import lack_line, words_lacking
from sidecue.cli.setting import (
    DEFAULT_PRACTICE,
    FlowsOption,
    PracticeOption,
    planned,
    practice_setting,
)
from sidecue.cli.sounding import sound_lines, sounds_of
from sidecue.cli.trouble import Trouble
from sidecue.conductor.assembly import recogniser_of
from sidecue.procedure.library import Library
from sidecue.procedure.plan import Plan
from sidecue.procedure.practice import Practice
from sidecue.procedure.source import LoadError
from sidecue.proof.cases import planned_again
from sidecue.proof.laws import time_faults
from sidecue.proof.proving import proven
from sidecue.proof.remembering import folder
from sidecue.proof.sharing_out import prove
from sidecue.proof.telling import dialogue, played
from sidecue.proof.verdict import Proof

ENGINE = "auto"
#: So many faults of one kind are told as dialogues; one slip can show at every later step.
MOST_TOLD = 2

ProceduresArgument = Annotated[
    list[str] | None, typer.Argument(help="Procedures, by id or by file. Without any: all.")
]


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("check")
    def check_command(
        procedures: ProceduresArgument = None,
        case: Annotated[
            str | None, typer.Option("--case", help="Explore the plan of this one case only.")
        ] = None,
        practice: PracticeOption = DEFAULT_PRACTICE,
        flows: FlowsOption = None,
        words: Annotated[
            bool,
            typer.Option(help="Also check that every word is known and that cues sound apart."),
        ] = True,
        again: Annotated[
            bool,
            typer.Option("--again", help="Walk also what was proven before and is unchanged."),
        ] = False,
    ) -> None:
        """Prove procedures: files, references, spoken lengths, words, then every state that can
        be reached by anything said, and by any timing.

        Cues that may be said at the same moment must not sound alike: each pair that does is a
        fault, told in a line with a way to mend it.

        Every interlock is checked on every transition. A fault is told as a dialogue: what to
        say, and how long to wait, until it shows. Exit code 1 when something is broken.

        A procedure that was proven before is not walked again while its files, its parts, the
        practice and sidecue itself are the same; the output says so. `--again` walks all.

        \b
        sidecue check                              everything that ships
        sidecue check composite-class-2            every case variant of one procedure
        sidecue check --case amalgam-14-do         one case only
        sidecue check --flows my-procedures        your own, beside the shipped ones
        """
        console = Console()
        library, office = practice_setting(practice, flows)
        names = _named(library, procedures)
        faults = list(time_faults(library))
        if faults:
            raise LoadError(faults)
        name = names[0] if procedures else None
        made = None if case is None else planned(library, office, case, name).plan
        if made is not None:
            proofs = [_one(console, library, made)]
        else:
            proofs = _many(console, library, office, names, again=again)
        sound = all(proof.sound for proof in proofs)
        if words:
            with console.status("comparing how cues sound"):
                plans = _samples(library, office, proofs) if made is None else [made]
                sound &= _words(console, plans)
        if not sound:
            raise typer.Exit(1)


def _named(library: Library, procedures: list[str] | None) -> tuple[str, ...]:
    names = tuple(Path(each).stem if each.endswith(".yaml") else each for each in procedures or ())
    for name in names:
        if name not in library.visits:
            raise Trouble(f"no procedure called {name!r}: known: {', '.join(library.visits)}")
    return names or library.visits


def _one(console: Console, library: Library, made: Plan) -> Proof:
    if not made.startable:
        raise Trouble(f"{made.case_line} cannot be started: see `sidecue plan`")
    found = proven(made, library.rules)
    proof = Proof(made.procedure, variants=1, distinct=1, explored=1, states=found.states,
                  transitions=found.transitions, tried=found.tried, seconds=found.seconds,
                  violations=[(made.case_line, each) for each in found.violations])  # fmt: skip
    _tell(console, proof, made)
    return proof


def _many(
    console: Console, library: Library, office: Practice, names: tuple[str, ...], *, again: bool
) -> list[Proof]:
    began = time.monotonic()
    proofs: list[Proof] = []
    with _bar(console) as bar:
        task = bar.add_task("exploring", total=None)
        work = prove(
            library, office, names, kept=folder(), again=again,
            progress=lambda done, all_: bar.update(task, completed=done, total=all_),
        )  # fmt: skip
        for proof in work:
            proofs.append(proof)
            _tell(bar.console, proof)
    console.print(
        f"{sum(p.variants for p in proofs)} case variants, "
        f"{sum(p.distinct for p in proofs)} distinct plans, "
        f"{sum(p.explored for p in proofs)} explored: "
        f"{sum(p.states for p in proofs)} states, "
        f"{sum(p.transitions for p in proofs)} transitions, "
        f"{sum(len(p.violations) for p in proofs)} violations, "
        f"{time.monotonic() - began:.1f} s",
        soft_wrap=True,
    )
    known = [proof for proof in proofs if proof.remembered]
    if known:
        console.print(
            f"walked now: {_procedures(len(proofs) - len(known))}, "
            f"{sum(p.states for p in proofs if not p.remembered)} states; remembered, for nothing "
            f"they rest on has changed: {_procedures(len(known))}, "
            f"{sum(p.states for p in known)} states (--again walks them too)",
            soft_wrap=True,
        )
    return proofs


def _procedures(count: int) -> str:
    return f"{count} procedure{'' if count == 1 else 's'}"


def _bar(console: Console) -> Progress:
    columns = (TextColumn("{task.description}"), BarColumn(), TaskProgressColumn())
    return Progress(*columns, TimeElapsedColumn(), console=console, transient=True)


def _tell(console: Console, proof: Proof, made: Plan | None = None) -> None:
    refused = f", {proof.refused} refused as cases" if proof.refused else ""
    took = f"{proof.seconds:.1f} s of work{' then, remembered' if proof.remembered else ''}"
    console.print(
        Text(f"{proof.procedure}: {proof.variants} variants{refused}, {proof.distinct} distinct, "
             f"{proof.explored} explored: {proof.states} states, {proof.transitions} transitions, "
             f"{took}"),
        soft_wrap=True,
    )  # fmt: skip
    if proof.unmade:
        console.print(Text(f"  {proof.unmade} variants could not be made into a case"))
    told_of: Counter[str] = Counter()
    for told, violation in proof.violations:
        broken = violation.broken
        told_of[broken.name] += 1
        if told_of[broken.name] > MOST_TOLD:
            continue
        console.print(Text(f"  broken: {broken.name}: {broken.what}", style="bold"), soft_wrap=True)
        console.print(Text(f"  case: {told}"), soft_wrap=True)
        for line in dialogue(violation, last=12):
            console.print(Text(f"    {line}"), soft_wrap=True)
        if made is not None and violation.way and played(made, violation.way) is None:
            console.print(Text("    (not with this practice's times; another's may allow it)"))
    for name, number in told_of.items():
        if number > MOST_TOLD:
            console.print(Text(f"  and {number - MOST_TOLD} more: {name}"), soft_wrap=True)


def _words(console: Console, plans: Sequence[Plan]) -> bool:
    recogniser = recogniser_of(ENGINE, None)
    lines: set[str] = set()
    try:
        for made in plans:
            lacking = words_lacking(made, recogniser)
            lines.update(lack_line(each, recogniser.name) for each in lacking)
    finally:
        recogniser.close()
    for line in sorted(lines):
        console.print(Text(f"  {line}"), soft_wrap=True)
    found = sounds_of(plans)
    for line in sound_lines(found):
        console.print(Text(line), soft_wrap=True)
    return not lines and not found.traps


def _samples(library: Library, office: Practice, proofs: Iterable[Proof]) -> list[Plan]:
    """Return plans that between them have every two steps that ever meet in one visit.

    Cues of two steps can be mistaken for each other only where both are in one plan.
    """
    try:
        return [
            made
            for proof in proofs
            for made in planned_again(library, proof.procedure, office, proof.samples)
        ]
    except ValueError as fault:
        raise Trouble(f"{folder()} is damaged ({fault}): walk all again with --again") from None
