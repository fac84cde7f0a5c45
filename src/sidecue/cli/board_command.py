"""`sidecue board`: the operatory screen, from setting up the case to the record."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from queue import SimpleQueue
from typing import Annotated, Any

import typer

from sidecue.board.place import DEFAULT_PORT
from sidecue.board.sizes import DIAGONAL_INCHES, DISTANCE_M
from sidecue.cli.boarding import boarded, viewing
from sidecue.cli.case_setup import CaseSetup
from sidecue.cli.listening import Wanted
from sidecue.cli.run_command import (
    Distance,
    Engine,
    Lan,
    Loudspeaker,
    Mic,
    Model,
    Mute,
    Out,
    Places,
    Port,
    Screen,
    Store,
    run_plan,
)
from sidecue.cli.setting import DEFAULT_PRACTICE, FlowsOption, PracticeOption, setting
from sidecue.cli.spoken_setup import SpokenSetUp
from sidecue.cli.trouble import CLEAR, in_one_line
from sidecue.conductor.assembly import Output
from sidecue.conductor.telling_case import Begun, Entered, Requests
from sidecue.procedure.plan import Plan


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("board")
    def board_command(
        case: Annotated[
            str | None,
            typer.Argument(help="A case to fill the page in with; file or name.", metavar="[CASE]"),
        ] = None,
        practice: PracticeOption = DEFAULT_PRACTICE,
        flows: FlowsOption = None,
        engine: Engine = "auto",
        model: Model = None,
        mute: Mute = False,
        microphone: Mic = None,
        loudspeaker: Loudspeaker = None,
        store: Store = None,
        out: Out = Path(),
        port: Port = DEFAULT_PORT,
        screen: Screen = DIAGONAL_INCHES,
        distance: Distance = DISTANCE_M,
        lan: Lan = None,
    ) -> None:
        """Set up a case on a page of this machine's browser, then run it there.

        The case is told by voice, typed, or filled in on the page, in any mixture: each value that
        is said is read back and counts after "confirm that".

        Letters are as large as the screen (--screen, inches) and its distance (--distance,
        metres) ask for. A second screen may watch; it can change nothing. Only this machine can
        open the page, unless --lan opens it to the local network. Ends with Ctrl-C.

        \b
        sidecue board
        sidecue board composite-46-mo --screen 32 --distance 2.5
        sidecue board --engine text                 keys and pedal only, no microphone
        sidecue board --lan 192.168.1.20            a tablet may open it too, once paired
        """
        wanted = Wanted(engine, model, microphone=microphone)
        wanted.check()
        filled = _entry(case, practice, flows)
        output, places = Output(mute, None, loudspeaker), Places(store, out)
        requests: Requests = SimpleQueue()
        chair = _Chair(requests)
        setup = CaseSetup(practice, flows, chair.begin, chair.again, chair.entered)
        spoken = SpokenSetUp(setup, wanted, output, requests)
        with boarded(port, viewing(screen, distance), setup.take, lan) as board:
            entry: Mapping[str, Any] | None = filled
            faults: tuple[str, ...] = ()
            while True:
                chair.free = True
                planned = spoken.run(entry, board, faults=faults)
                if planned is None:
                    return
                chair.free = False
                entry, faults = None, ()
                try:
                    run_plan(planned, wanted, output, places, None, board)
                except CLEAR as error:  # a microphone that is missing is told where it was asked
                    entry, faults = spoken.entry, tuple(in_one_line(error))
                    typer.echo("\n".join(f"sidecue: {line}" for line in faults), err=True)


class _Chair:
    """One visit at a time. Called from the server's threads."""

    def __init__(self, requests: Requests) -> None:
        self._requests = requests
        self.free = True

    def begin(self, planned: Plan) -> bool:
        """Hand the plan to the session's thread; False while a visit is running."""
        if not self.free:
            return False
        self.free = False
        self._requests.put(Begun(planned))
        return True

    def entered(self, entry: dict[str, Any]) -> None:
        """Tell the voice's part what the page holds."""
        if self.free:
            self._requests.put(Entered(entry))

    def again(self) -> None:
        """Begin an empty case, unless a visit is running."""
        if self.free:
            self._requests.put(Entered(None))


def _entry(case: str | None, practice: str, flows: list[Path] | None) -> dict[str, Any]:
    if case is None:
        return {}
    entry = setting(case, practice, None, flows).case.entry
    return entry.model_dump(by_alias=True, exclude_defaults=True, mode="json")
