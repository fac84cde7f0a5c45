"""`sidecue run` and `sidecue resume`: a session, live or from a recording or a script."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from sidecue.cli.live import run_here
from sidecue.cli.setting import (
    DEFAULT_CASE,
    DEFAULT_PRACTICE,
    CaseArgument,
    FlowsOption,
    PracticeOption,
    ProcedureOption,
    setting,
    startable,
)
from sidecue.cli.telling import Teller
from sidecue.cli.trouble import Trouble
from sidecue.cli.visit import visit
from sidecue.conductor.assembly import Output, recogniser_of, store_path
from sidecue.conductor.conducting import Conductor
from sidecue.conductor.ending import leave_record
from sidecue.conductor.running import run_recording
from sidecue.hearing.ears import Ears
from sidecue.hearing.files import FileSource
from sidecue.hearing.text import ScriptEars, parse_script, read_script
from sidecue.procedure.plan import Plan
from sidecue.record.port import SessionInfo
from sidecue.record.sqlite_journal import SqliteJournal

Mute = Annotated[bool, typer.Option("--mute", help="Say nothing aloud.")]
SayTo = Annotated[
    Path | None, typer.Option("--say-to", help="Write what is said to this WAV file.")
]
Loudspeaker = Annotated[str | None, typer.Option(help="Loudspeaker, by (part of) its name.")]
Mic = Annotated[str | None, typer.Option("--microphone", help="Microphone, by its name.")]
Engine = Annotated[str, typer.Option(help="pocketsphinx, vosk or text (typed phrases).")]
Model = Annotated[str | None, typer.Option(help="Vosk model: a folder, or a name in models/.")]
Store = Annotated[Path | None, typer.Option(help="Journal file; default: this user's own.")]
Out = Annotated[Path, typer.Option("--out", help="Folder for the record and the advice.")]
ENGINES = ("pocketsphinx", "vosk", "text")


def register(app: typer.Typer) -> None:
    """Add both commands."""

    @app.command("run")
    def run_command(
        case: CaseArgument = DEFAULT_CASE,
        practice: PracticeOption = DEFAULT_PRACTICE,
        procedure: ProcedureOption = None,
        flows: FlowsOption = None,
        audio: Annotated[
            Path | None, typer.Option(help="Listen to this recording, not the microphone.")
        ] = None,
        script: Annotated[
            Path | None, typer.Option(help="Phrases from this file, with --engine text.")
        ] = None,
        engine: Engine = "pocketsphinx",
        model: Model = None,
        mute: Mute = False,
        say_to: SayTo = None,
        microphone: Mic = None,
        loudspeaker: Loudspeaker = None,
        store: Store = None,
        out: Out = Path(),
    ) -> None:
        """Run a case by voice, keys or text, and leave a record.

        Say the address phrase before a cue ("okay tray, floss tied"); not in answer to a
        question, and not for stopping words and emergencies. The keys shown do the same.

        \b
        sidecue run                                 microphone and loudspeaker
        sidecue run --engine text                   typed phrases and keys, no microphone
        sidecue run --audio visit.wav --say-to prompts.wav
        sidecue run --engine text --script visit.txt --mute

        Exit code 1 when it ended before the procedure was complete (see `sidecue resume`).
        """
        plan = startable(setting(case, practice, procedure, flows).plan)
        output = Output(mute, say_to, loudspeaker)
        recording = audio is not None or script is not None
        choice = _Choice(engine, model, audio, script, microphone, output, store, out)
        choice.check()
        _go(plan, choice, None, live=not recording)

    @app.command("resume")
    def resume_command(
        session: Annotated[
            str | None, typer.Argument(help="Its id, or the start of it; default: the newest.")
        ] = None,
        list_: Annotated[bool, typer.Option("--list", help="List the stored sessions.")] = False,
        engine: Engine = "pocketsphinx",
        model: Model = None,
        mute: Mute = False,
        microphone: Mic = None,
        loudspeaker: Loudspeaker = None,
        store: Store = None,
        out: Out = Path(),
    ) -> None:
        """Go on with a session that was interrupted: same step, timers counted on.

        \b
        sidecue resume --list
        sidecue resume
        """
        journal = SqliteJournal(store or store_path())
        try:
            known = journal.sessions()
            if list_:
                for info in known:
                    typer.echo(_line(info))
                return
            chosen = _chosen(known, session)
            plan = journal.plan(chosen.id)
        finally:
            journal.close()
        output = Output(mute, None, loudspeaker)
        choice = _Choice(engine, model, None, None, microphone, output, store, out)
        choice.check()
        _go(plan, choice, chosen, live=True)


class _Choice:
    """What was asked for on the command line."""

    def __init__(
        self,
        engine: str,
        model: str | None,
        audio: Path | None,
        script: Path | None,
        microphone: str | None,
        output: Output,
        store: Path | None,
        out: Path,
    ) -> None:
        self.engine, self.model, self.audio, self.script = engine, model, audio, script
        self.microphone, self.output = microphone, output
        self.store, self.out = store or store_path(), out

    def check(self) -> None:
        """Raise Trouble for choices that do not go together."""
        if self.engine not in ENGINES:
            raise Trouble(f"no engine called {self.engine!r}: choose {', '.join(ENGINES)}")
        if self.script is not None and self.engine != "text":
            raise Trouble("--script holds phrases, not sound: add --engine text")
        if self.audio is not None and self.engine == "text":
            raise Trouble("--audio needs ears: leave --engine text away")
        self.out.mkdir(parents=True, exist_ok=True)


def _go(plan: Plan, choice: _Choice, stored: SessionInfo | None, *, live: bool) -> None:
    console = Console()
    watchers = () if live and sys.stdout.isatty() else (Teller(console),)
    session = stored.id if stored is not None else None
    with visit(plan, choice.store, choice.output, session=session, watchers=watchers) as open_:
        conductor, journal = open_
        if live:
            run_here(conductor, journal, choice.engine, choice.model, choice.microphone, console)
        else:
            _recorded(conductor, choice)
        files = leave_record(journal, conductor.session, choice.out)
        for path in files:
            console.print(f"wrote {path}")
        if conductor.state.live:
            console.print("not complete: go on with `sidecue resume`")
            raise typer.Exit(1)


def _recorded(conductor: Conductor, choice: _Choice) -> None:
    show: Callable[[float], None] = lambda now: None  # noqa: E731 - a watcher tells each exchange
    if choice.engine == "text":
        text = read_script(choice.script) if choice.script else parse_script(sys.stdin.read())
        conductor.start(0.0)
        run_recording(conductor, ScriptEars(conductor.vocabulary).listen(text), show)
        return
    assert choice.audio is not None
    source = FileSource(choice.audio)
    recogniser = recogniser_of(choice.engine, choice.model)
    try:
        conductor.start(0.0)
        run_recording(conductor, Ears(recogniser, conductor.vocabulary).listen(source), show)
    finally:
        recogniser.close()
        source.close()


def _chosen(known: Sequence[SessionInfo], wanted: str | None) -> SessionInfo:
    open_ = [info for info in known if not info.closed]
    fitting = [info for info in open_ if wanted is None or info.id.startswith(wanted)]
    if not fitting:
        what = "no interrupted session" if wanted is None else f"no interrupted session {wanted!r}"
        raise Trouble(f"{what}: `sidecue resume --list` shows what is stored")
    if wanted is not None and len(fitting) > 1:
        raise Trouble(f"{wanted!r} begins {len(fitting)} sessions: give more of the id")
    return fitting[0]


def _line(info: SessionInfo) -> str:
    state = "complete" if info.closed else "interrupted"
    return f"{info.id}  {info.opened}  {state:11}  {info.events:4} events  {info.case_line}"
