"""`sidecue shadow`: a plan spoken as a lesson for a trainee."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from functools import partial
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.progress import track
from rich.text import Text

from sidecue.cli.keeping import Force, refuse_to_replace
from sidecue.cli.reading import Reader
from sidecue.cli.setting import (
    DEFAULT_CASE,
    DEFAULT_PRACTICE,
    CaseArgument,
    FlowsOption,
    PracticeOption,
    ProcedureOption,
    setting,
)
from sidecue.cli.trouble import Trouble
from sidecue.conductor.assembly import recogniser_of
from sidecue.hearing.ears import Ears
from sidecue.hearing.microphone import Microphone
from sidecue.hearing.port import Vocabulary
from sidecue.procedure.plan import Plan
from sidecue.speaking.port import Sound
from sidecue.training.lesson import LessonLine, LineKind, lesson
from sidecue.training.lesson_audio import write_lesson
from sidecue.training.shadowing import CUES, Wish, asking, pacing, shadow

PACE = 3.0  # seconds between steps in a file, when none is chosen
INDENT = {LineKind.OPENING: "", LineKind.STEP: "\n", LineKind.CLOSING: "\n"}
LABELS = {LineKind.WHY: "why: ", LineKind.CAUTION: "caution: ", LineKind.TIMER: "time: "}
UNSURE = "say or type: next, again, back or stop (Enter is next)"


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("shadow")
    def shadow_command(
        case: CaseArgument = DEFAULT_CASE,
        practice: PracticeOption = DEFAULT_PRACTICE,
        procedure: ProcedureOption = None,
        flows: FlowsOption = None,
        pace: Annotated[
            float | None,
            typer.Option(help="Seconds between steps; without it, each waits for your next."),
        ] = None,
        to: Annotated[
            Path | None, typer.Option(help="Write the whole lesson to this .wav or .flac file.")
        ] = None,
        force: Force = False,
        mute: Annotated[bool, typer.Option("--mute", help="Only show the words.")] = False,
        loudspeaker: Annotated[
            str | None, typer.Option(help="Loudspeaker, by (part of) its name.")
        ] = None,
        by_voice: Annotated[
            bool, typer.Option("--by-voice", help='Listen for "next step", "say it again" ...')
        ] = False,
        microphone: Annotated[
            str | None, typer.Option(help="Microphone for --by-voice, by its name.")
        ] = None,
    ) -> None:
        """Speak a case's plan as a lesson: what to hand over and how, why, and what to watch.

        After each step it waits: Enter or "next", "again", "back", "stop". With --pace it goes
        on by itself. Nothing is stored, and a plan with open questions can be learned too.

        Exit code 1 when the lesson was stopped before its end.

        \b
        sidecue shadow                              step by step, at your pace
        sidecue shadow amalgam-14-do --pace 5       five seconds between steps
        sidecue shadow --to lesson.wav              the whole lesson in one audio file
        """
        if pace is not None and not 0.0 <= pace < float("inf"):
            raise Trouble(f"a pace of {pace:g} seconds is not possible: use 0 or more")
        if to is not None:
            refuse_to_replace([to], force=force)
        plan = setting(case, practice, procedure, flows).plan
        lines = lesson(plan)
        if to is not None:
            _to_file(lines, to, PACE if pace is None else pace)
            return
        console = Console()
        with Reader(None if mute else loudspeaker or "") as reader, ExitStack() as opened:
            if pace is not None:
                wish = pacing(pace, time.sleep)
            elif by_voice:
                wish = opened.enter_context(_voice_wishes(plan, microphone, console))
            else:
                wish = asking(_typed(console), lambda: console.print(UNSURE, style="dim"))
            went = shadow(lines, partial(_say, console, reader), wish)
        if not went.whole:
            console.print(f"stopped after {went.sections_heard} of {went.sections} parts")
            raise typer.Exit(1)


def _say(console: Console, reader: Reader, line: LessonLine) -> None:
    before = INDENT.get(line.kind, "   ")
    shown = Text(f"{before}{LABELS.get(line.kind, '')}{line.text}")
    console.print(shown, style="bold" if line.kind is LineKind.STEP else "", soft_wrap=True)
    reader.say(line.text)


def _to_file(lines: tuple[LessonLine, ...], path: Path, pace: float) -> None:
    if not path.parent.is_dir():
        raise Trouble(f"{path.parent}: there is no such folder: make it, or choose another place")
    console = Console(stderr=True)
    with Reader(None) as reader:
        done = iter(track(lines, "speaking the lesson", console=console, transient=True))

        def render(text: str) -> Sound:
            next(done, None)
            return reader.render(text)

        chapters = write_lesson(path, lines, render, pace)
        for _ in done:
            pass
    typer.echo(f"wrote {path}: {len(chapters)} parts, the last at {chapters[-1].at / 60:.1f} min")


def _typed(console: Console) -> Callable[[], str | None]:
    def read() -> str | None:
        if sys.stdin.isatty():
            console.print("[Enter: next] ", end="", style="dim", markup=False)
        line = sys.stdin.readline()
        return line if line else None

    return read


@contextmanager
def _voice_wishes(
    plan: Plan, microphone: str | None, console: Console
) -> Iterator[Callable[[], Wish]]:
    """Listen for wishes, between the steps only: our own voice is over by then."""
    recogniser = recogniser_of("auto", None)
    try:
        source = Microphone(microphone)
        try:
            vocabulary = Vocabulary(CUES, plan.address, bare=True, decoys=plan.decoys)
            blocks = source.blocks()

            def wish() -> Wish:
                began = time.monotonic()
                ears = Ears(recogniser, lambda started: vocabulary)
                for block in blocks:
                    if block.at < began:  # our own voice, still waiting to be read
                        continue
                    for hearing in ears.take(block).hearings:
                        if hearing.cue is not None:
                            return Wish(hearing.cue)
                        console.print(UNSURE, style="dim")
                return Wish.STOP

            yield wish
        finally:
            source.close()
    finally:
        recogniser.close()
