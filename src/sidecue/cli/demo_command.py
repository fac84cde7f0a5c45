"""`sidecue demo`: a whole restoration from recorded speech, through the same pipeline."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.rule import Rule

from sidecue.assets import data_folder
from sidecue.board.place import DEFAULT_PORT
from sidecue.board.sizes import DIAGONAL_INCHES, DISTANCE_M
from sidecue.cli.boarding import Board, boarded, viewing
from sidecue.cli.leaving import left
from sidecue.cli.playing import Speed, play
from sidecue.cli.run_command import Distance, Port, Screen, ShowBoard
from sidecue.cli.setting import DEFAULT_CASE, DEFAULT_PRACTICE, setting, startable
from sidecue.cli.telling import Teller
from sidecue.cli.visit import visit
from sidecue.conductor.assembly import Output, recogniser_of
from sidecue.conductor.ending import story_of
from sidecue.hearing.ears import Ears
from sidecue.hearing.files import FileSource
from sidecue.record.summary import summarise, summary_lines

SESSION = "session.flac"


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("demo")
    def demo_command(
        out: Annotated[
            Path, typer.Option(help="Folder for the prompts, the record and the journal.")
        ] = Path("sidecue-demo"),
        board: ShowBoard = False,
        port: Port = DEFAULT_PORT,
        screen: Screen = DIAGONAL_INCHES,
        distance: Distance = DISTANCE_M,
        speed: Speed = 1.0,
    ) -> None:
        """Run a class II composite from a spoken session that ships with sidecue.

        The recording is decoded, every utterance is accepted or refused, and drives the session
        on the recording's own clock. Some of what is said in it is chatter, some is unsafe: both
        must come to nothing. All voices are synthetic. Writes prompts.wav and journal.sqlite3 to
        the folder, and record.md, timeline.csv and advice.md to the visit's own folder in it.

        Exit code 1 when the procedure did not reach its end.

        \b
        sidecue demo
        sidecue demo --out /tmp/demo
        sidecue demo --board                        on a page, in its own time (18 minutes)
        sidecue demo --board --speed 8
        """
        if not board:
            _demo(out, None, speed)
            return
        with boarded(port, viewing(screen, distance)) as shown:
            _demo(out, shown, speed)


def _demo(out: Path, board: Board | None, speed: float) -> None:
    console = Console()
    plan = startable(setting(DEFAULT_CASE, DEFAULT_PRACTICE).plan)
    source = FileSource(data_folder("audio_fixtures/demo") / SESSION)
    out.mkdir(parents=True, exist_ok=True)
    console.print(f"{plan.title}: {plan.case_line}. Tooth {plan.tooth_spoken}.")
    console.print(f"{len(plan.steps)} steps; listening to {source.lasts / 60:.0f} minutes.\n")
    prompts = Output(to_file=out / "prompts.wav")
    store = out / "journal.sqlite3"
    with visit(plan, store, prompts, watchers=(Teller(console),)) as opened:
        conductor, journal = opened
        recogniser = recogniser_of("auto", None)
        try:
            ears = Ears(recogniser, conductor.vocabulary)
            heard = source if board is None else board.metered(source)
            play(conductor, ears.listen(heard), board, speed)
        finally:
            recogniser.close()
        files = left(journal, conductor.session, out, store)
        if board is not None:
            board.leave(tuple(str(path) for path in files))
        console.print(Rule())
        for line in summary_lines(summarise(story_of(journal, conductor.session))):
            console.print(line)
        console.print(f"In {out}: prompts.wav")
        console.print(f"In {files[0].parent}: {', '.join(path.name for path in files)}")
        if conductor.state.live:
            raise typer.Exit(1)
