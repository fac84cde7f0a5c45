"""`sidecue run` and `sidecue resume`: a session, live or from a recording or a script."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from tempfile import TemporaryFile
from typing import TYPE_CHECKING, Annotated

import typer

from sidecue.board.place import DEFAULT_PORT
from sidecue.board.sizes import DIAGONAL_INCHES, DISTANCE_M
from sidecue.cli.keeping import Force, refuse_to_replace
from sidecue.cli.leaving import go_on, left
from sidecue.cli.listening import Listening, Wanted, listening
from sidecue.cli.live import run_here
from sidecue.cli.playing import Speed, play
from sidecue.cli.refusing import startable_aloud
from sidecue.cli.setting import (
    DEFAULT_CASE,
    DEFAULT_PRACTICE,
    CaseArgument,
    FlowsOption,
    PracticeOption,
    ProcedureOption,
    setting,
)
from sidecue.cli.spoken_setup import told_plan
from sidecue.cli.telling import Teller, VisitConsole
from sidecue.cli.trouble import Trouble, in_one_line
from sidecue.cli.visit import epoch_of, opened_now, visit, wait_until_quiet
from sidecue.conductor.assembly import Output, store_path
from sidecue.conductor.conducting import Conductor
from sidecue.conductor.running import WallClock
from sidecue.hearing.ears import Ears
from sidecue.hearing.text import ScriptEars
from sidecue.procedure.plan import Plan
from sidecue.record.port import SessionInfo
from sidecue.record.sqlite_journal import SqliteJournal
from sidecue.session.events import Source
from sidecue.session.state import Mode

if TYPE_CHECKING:
    from sidecue.cli.boarding import Board

Mute = Annotated[bool, typer.Option("--mute", help="Say nothing aloud.")]
SayTo = Annotated[
    Path | None, typer.Option("--say-to", help="Write what is said to this WAV file.")
]
Loudspeaker = Annotated[str | None, typer.Option(help="Loudspeaker, by (part of) its name.")]
Mic = Annotated[str | None, typer.Option("--microphone", help="Microphone, by its name.")]
Engine = Annotated[
    str, typer.Option(help="auto (the best installed), moonshine, pocketsphinx, vosk or text.")
]
Model = Annotated[str | None, typer.Option(help="Vosk model: a folder, or a name in models/.")]
Store = Annotated[Path | None, typer.Option(help="Journal file; default: this user's own.")]
ShowBoard = Annotated[
    bool, typer.Option("--board", help="Show it on a page of this machine's browser too.")
]
Port = Annotated[int, typer.Option(help="The board's port on this machine; 0 for any.")]
Screen = Annotated[float, typer.Option(help="The screen's diagonal in inches.")]
Distance = Annotated[float, typer.Option(help="How far away it is read, in metres.")]
Lan = Annotated[
    str | None,
    typer.Option(
        metavar="ADDRESS",
        help="Open the board to the local network too, at this machine's address there: "
        "encrypted, for screens paired by a code.",
    ),
]
Out = Annotated[
    Path,
    typer.Option(
        "--out", help="Where the visit's own folder goes, with its record, timeline and advice."
    ),
]


def register(app: typer.Typer) -> None:
    """Add both commands."""

    @app.command("run")
    def run_command(
        case: CaseArgument = DEFAULT_CASE,
        practice: PracticeOption = DEFAULT_PRACTICE,
        procedure: ProcedureOption = None,
        flows: FlowsOption = None,
        set_up: Annotated[
            bool, typer.Option("--set-up", help="Tell the case first, by voice or typed.")
        ] = False,
        audio: Annotated[
            Path | None, typer.Option(help="Listen to this recording, not the microphone.")
        ] = None,
        script: Annotated[
            Path | None, typer.Option(help="Phrases from this file, with --engine text.")
        ] = None,
        engine: Engine = "auto",
        model: Model = None,
        mute: Mute = False,
        say_to: SayTo = None,
        force: Force = False,
        microphone: Mic = None,
        loudspeaker: Loudspeaker = None,
        store: Store = None,
        out: Out = Path(),
        board: ShowBoard = False,
        port: Port = DEFAULT_PORT,
        screen: Screen = DIAGONAL_INCHES,
        distance: Distance = DISTANCE_M,
        lan: Lan = None,
        speed: Speed = 1.0,
    ) -> None:
        """Run a case by voice, keys or text, and leave a record.

        Say the address phrase before a cue ("okay tray, ligature is on"); not in answer to a
        question, and not for stopping words and emergencies. The keys shown do the same.

        \b
        sidecue run                                 microphone and loudspeaker
        sidecue run --set-up                        tell the case by voice, then run it
        sidecue run --engine text                   typed phrases and keys, no microphone
        sidecue run --board                         with the screen of the operatory
        sidecue run --audio visit.wav --say-to prompts.wav
        sidecue run --audio visit.wav --mute --board --speed 4
        sidecue run --engine text --script visit.txt --mute

        A script has a phrase a line, said a moment after the last one, or at a time of the visit:
        "02:30.5 okay tray, ligature is on"; "(wait 20)" waits so many seconds, "#" begins a remark.

        Exit code 1 when it ended before the procedure was complete (see `sidecue resume`).
        """
        output, places = Output(mute, say_to, loudspeaker), Places(store, out)
        wanted = Wanted(engine, model, audio, script, microphone)
        if say_to is not None:
            refuse_to_replace([say_to], force=force)
        if set_up:
            plan = told_plan(practice, flows, wanted, output)
        else:
            plan = startable_aloud(setting(case, practice, procedure, flows).plan, output)
        if not board:
            run_plan(plan, wanted, output, places, None)
            return
        from sidecue.cli.boarding import boarded, viewing  # heavy, and few ask for it

        with boarded(port, viewing(screen, distance), lan=lan) as shown:
            run_plan(plan, wanted, output, places, None, shown, speed)

    @app.command("resume")
    def resume_command(
        session: Annotated[
            str | None, typer.Argument(help="Its id, or the start of it; default: the newest.")
        ] = None,
        list_: Annotated[bool, typer.Option("--list", help="List the stored sessions.")] = False,
        engine: Engine = "auto",
        model: Model = None,
        mute: Mute = False,
        microphone: Mic = None,
        loudspeaker: Loudspeaker = None,
        store: Store = None,
        out: Out = Path(),
        board: ShowBoard = False,
        port: Port = DEFAULT_PORT,
        screen: Screen = DIAGONAL_INCHES,
        distance: Distance = DISTANCE_M,
        lan: Lan = None,
    ) -> None:
        """Go on with a session that was interrupted: same step, timers counted on.

        \b
        sidecue resume --list
        sidecue resume
        sidecue resume --board                      on the page too; open pages find it again
        """
        journal = SqliteJournal(store or store_path())
        try:
            known = journal.sessions()
            if list_:
                for info in known:
                    typer.echo(_line(info, running=journal.running(info.id)))
                if not known:
                    typer.echo("no session is stored")
                return
            chosen = _chosen(known, session)
            plan = journal.plan(chosen.id)
            journal.events(chosen.id)  # a session that was changed is told before anything runs
        finally:
            journal.close()
        wanted = Wanted(engine, model, microphone=microphone)
        output, places = Output(mute, None, loudspeaker), Places(store, out)
        if not board:
            run_plan(plan, wanted, output, places, chosen)
            return
        from sidecue.cli.boarding import boarded, viewing  # heavy, and few ask for it

        with boarded(port, viewing(screen, distance), lan=lan) as shown:
            run_plan(plan, wanted, output, places, chosen, shown)


class Places:
    """Where the journal and the record go."""

    def __init__(self, store: Path | None, out: Path) -> None:
        self.store, self.out = store or store_path(), out

    def check(self) -> None:
        """Raise Trouble now, not at the end of the visit, when no record could be written."""
        try:
            self.out.mkdir(parents=True, exist_ok=True)
            with TemporaryFile(dir=self.out) as probe:
                probe.write(bytes(4096))
        except OSError as error:
            told = in_one_line(error)[0]
            raise Trouble(f"the record cannot be left in {self.out}: {told}") from error


def run_plan(
    plan: Plan,
    wanted: Wanted,
    output: Output,
    places: Places,
    stored: SessionInfo | None,
    board: Board | None = None,
    speed: float = 1.0,
) -> None:
    """Run `plan` (go on with `stored`) and leave its record. Exits with 1 when not complete."""
    console = VisitConsole()
    live = not wanted.recorded
    watchers = () if live and sys.stdout.isatty() else (Teller(console),)
    session = stored.id if stored is not None else None
    opened = stored.opened if stored is not None else opened_now()
    clock = WallClock(epoch_of(opened))
    wanted.check()
    places.check()
    with (
        listening(plan, wanted, clock) as heard,
        visit(plan, places.store, output, session=session, opened=opened, watchers=watchers) as (
            conductor,
            journal,
        ),
    ):
        stopped = False
        try:
            if live:
                run_here(conductor, heard, clock, console, board)
                if not output.mute and output.to_file is None:
                    wait_until_quiet(conductor, clock)
            else:
                _recorded(conductor, heard, board, speed)
            files = left(journal, conductor.session, places.out, places.store)
        except KeyboardInterrupt:  # what was done until then is on record all the same
            stopped = True
            files = left(journal, conductor.session, places.out, places.store)
        for path in files:
            console.print(f"wrote {path}", soft_wrap=True)
        if board is not None:
            board.leave(tuple(str(path) for path in files))
        complete = conductor.state.mode is Mode.FINISHED
        if not complete:
            console.print(go_on(conductor.session, places.store, places.out), soft_wrap=True)
        if stopped:
            raise KeyboardInterrupt
        if not complete:
            raise typer.Exit(1)


def _recorded(conductor: Conductor, heard: Listening, board: Board | None, speed: float) -> None:
    came = Source.VOICE
    if heard.recogniser is not None:
        source = heard.source if board is None else board.metered(heard.source)
        listened = Ears(heard.recogniser, conductor.vocabulary).listen(source)
    else:
        assert heard.script is not None
        came = Source.TEXT
        typed = partial(conductor.vocabulary, typed=True)
        listened = ScriptEars(typed).listen(heard.script)
    play(conductor, listened, board, speed, came)  # a watcher tells each exchange


def _chosen(known: Sequence[SessionInfo], wanted: str | None) -> SessionInfo:
    open_ = [info for info in known if not info.closed]
    fitting = [info for info in open_ if wanted is None or info.id.startswith(wanted)]
    closed = [info for info in known if info.closed and wanted and info.id.startswith(wanted)]
    if not fitting and closed:
        raise Trouble(
            f"session {closed[0].id} is complete: there is nothing to go on with; "
            f"`sidecue record {closed[0].id}` writes its record again"
        )
    if not fitting:
        what = "no interrupted session" if wanted is None else f"no interrupted session {wanted!r}"
        raise Trouble(f"{what}: `sidecue resume --list` shows what is stored")
    if wanted is not None and len(fitting) > 1:
        raise Trouble(f"{wanted!r} begins {len(fitting)} sessions: give more of the id")
    return fitting[0]


def _line(info: SessionInfo, *, running: bool) -> str:
    state = "complete" if info.closed else "running now" if running else "interrupted"
    return f"{info.id}  {info.opened}  {state:11}  {info.events:4} events  {info.case_line}"
