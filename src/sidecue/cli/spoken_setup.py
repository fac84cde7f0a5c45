"""A case set up by voice, typed phrases or the board's page, all at once."""

from __future__ import annotations

import time
from collections.abc import Mapping
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import TYPE_CHECKING, Any

import typer

from sidecue.board.page import LastHeard
from sidecue.board.setup_page import talk
from sidecue.cli.case_setup import CaseSetup
from sidecue.cli.hands import hands, put_back
from sidecue.cli.listening import Listening, NoMicrophone, Wanted, listening
from sidecue.cli.trouble import CLEAR, Trouble, in_one_line
from sidecue.conductor.assembly import Output, mouth_of
from sidecue.conductor.running import Press, Typed, WallClock
from sidecue.conductor.telling_case import Listener, Preparing, Requests, Turn, run_preparing
from sidecue.hearing.ears import Ears
from sidecue.hearing.port import Recogniser, Vocabulary
from sidecue.procedure.case_talk import WARNINGS, CaseTalk, case_talk
from sidecue.procedure.plan import Cue, Plan
from sidecue.session.setting_up import SetUpMachine

if TYPE_CHECKING:
    from sidecue.cli.boarding import Board


class SpokenSetUp:
    """Sets cases up, one after the other. `requests` is where a page's wishes come in."""

    def __init__(
        self, setup: CaseSetup, wanted: Wanted, output: Output, requests: Requests
    ) -> None:
        self._setup, self._wanted, self._output = setup, wanted, output
        self.requests = requests
        self.entry: Mapping[str, Any] = {}  # of the last case set up
        self._talk = case_talk(setup.practice)
        library = setup.library
        self.machine = SetUpMachine(self._talk, library.cues, dict(library.prompts), setup.draft)

    def run(
        self,
        entry: Mapping[str, Any] | None,
        board: Board | None,
        *,
        faults: tuple[str, ...] = (),
        ending: bool = False,
    ) -> Plan | None:
        """Set a case up, beginning with `entry`; None waits until the next case is asked for.
        `faults` say what became of the last start.

        With `ending`, returns None when nothing more is typed. A microphone that cannot be opened
        is told in one line; page and typed phrases still work.
        """
        clock = WallClock(time.time())
        self._setup.warnings_told = False  # of this patient nothing is told yet
        if board is not None:
            board.prepare(self.requests)
        with ExitStack() as stack:
            heard = self._heard(stack, clock)
            mouth = mouth_of(self._output, _tell)
            stack.callback(mouth.close)
            shown = _Shown(self, board, clock, faults)
            preparing = Preparing(self.machine, self._listener(heard.recogniser), mouth, shown)
            shown.preparing = preparing
            ears = (
                Ears(heard.recogniser, preparing.vocabulary)
                if heard.recogniser is not None
                else None
            )
            source = heard.source
            if board is not None and ears is not None:
                source = board.metered(source)
            over = source.close if ending else _nothing
            stack.enter_context(hands(self.requests.put, over, typing=ears is None))
            if entry is not None:
                preparing.begin(entry, clock.now())
            plan = run_preparing(preparing, ears, source, clock, self.requests, shown.tick)
            self.entry = preparing.state.entry
            _wait_until_quiet(preparing, clock)
        put_back(_typed(self.requests))
        return plan

    def page(self, entry: Mapping[str, Any]) -> dict[str, Any]:
        """Return the page of a case so far."""
        return self._setup.blank(entry)

    def close_warnings(self, preparing: Preparing, now: float) -> bool:
        """Ask for no more warnings by voice once the page says that all are told; return whether
        that changed anything. Like all that is entered on a screen it is not spoken about."""
        state = preparing.state
        done = not self._setup.warnings_told or WARNINGS in state.left_open
        if done or state.resting or state.question is not None:
            return False
        # Another entry than the page's, so that what is asked for next is found anew.
        closed = replace(state, entry={"": True}, left_open=state.left_open | {WARNINGS})
        asking = self.machine.entered(closed, state.entry, now)
        if state.asked == WARNINGS:
            item, plan = self.machine.item(asking), self._setup.draft(asking.entry).plan
            ready = "start" if plan is not None and plan.startable else "screen"
            prompt = self._talk.prompts[ready] if item is None else item.ask
            asking = replace(asking, told=(prompt,))
        preparing.state = asking
        return True

    @property
    def address(self) -> str:
        """The address phrase."""
        return self._setup.library.address

    def _heard(self, stack: ExitStack, clock: WallClock) -> Listening:
        try:
            return stack.enter_context(listening(None, self._wanted, clock))
        except CLEAR as error:
            for line in in_one_line(error):
                _tell(f"{line} (the page and typed phrases still work)")
            return Listening(NoMicrophone(clock))

    def _listener(self, recogniser: Recogniser | None) -> Listener:
        library = self._setup.library
        unknown: tuple[str, ...] = ()
        if recogniser is not None:
            every = Vocabulary(
                _every_cue(self._talk, library.cues),
                library.address,
                pronunciations=library.pronunciations,
            )
            unknown = recogniser.unknown_words(every)
        if unknown:
            _tell(f"{recogniser.name if recogniser else ''} does not know: {', '.join(unknown)}")
        return Listener(library.address, library.decoys, library.pronunciations, frozenset(unknown))


def told_plan(practice: str, flows: list[Path] | None, wanted: Wanted, output: Output) -> Plan:
    """Return the plan of a case told by voice or typed, without a page. Raises Trouble when no
    more is typed before it starts, or when a recording is asked for."""
    wanted.check()
    if wanted.recorded:
        raise Trouble("--set-up is told live: leave --audio and --script away")
    setup = CaseSetup(practice, flows, lambda _: False, _nothing)
    spoken = SpokenSetUp(setup, wanted, output, SimpleQueue())
    plan = spoken.run({}, None, ending=wanted.engine == "text")
    if plan is None:
        raise Trouble("the case was not started: say or type `start the visit`, then confirm")
    return plan


class _Shown:
    """Tells each turn in the terminal and on the page."""

    def __init__(
        self, owner: SpokenSetUp, board: Board | None, clock: WallClock, faults: tuple[str, ...]
    ) -> None:
        self._owner, self._board, self._clock, self._faults = owner, board, clock, faults
        self._heard = LastHeard()
        self._bare = False
        self.preparing: Preparing | None = None

    def __call__(self, turn: Turn) -> None:
        """Show one turn."""
        hearing = turn.hearing
        if hearing is not None:
            self._faults = ()
            taken = hearing.cue is not None
            self._heard = LastHeard(hearing.phrase, "" if taken else hearing.why, taken)
            verdict = "" if taken else f" ({hearing.why})"
            typer.echo(f'hears    "{hearing.phrase}"{verdict}')
        for line in turn.said:
            typer.echo(f"says     {line}")
        if not turn.state.resting:
            self._publish()

    def tick(self, now: float) -> None:
        """Show what changes without a turn: the microphone, and whether the address is needed."""
        preparing, board = self.preparing, self._board
        if preparing is None or board is None:
            return
        if self._owner.close_warnings(preparing, now):
            self._publish()
        bare = preparing.machine.answering(preparing.state, now)
        if bare != self._bare and not preparing.state.resting:
            self._bare = bare
            self._publish()
        state = "none"
        if board.listens:
            state = "speaking" if preparing.speaking(now) else "listening"
            if state == "listening" and preparing.held(now):
                state = "held"
        board.show_ear(state, now)

    def _publish(self) -> None:
        preparing, board, now = self.preparing, self._board, self._clock.now()
        if preparing is None or board is None:
            return
        machine, state = preparing.machine, preparing.state
        told = talk(machine, state, self._heard, self._owner.address, now)
        faults = {"faults": list(self._faults)} if self._faults else {}
        board.publish({**self._owner.page(state.entry), **faults, "talk": told})


def _every_cue(talk_: CaseTalk, general: tuple[Cue, ...]) -> tuple[Cue, ...]:
    """Return every cue of a set-up; the surfaces' words are those of one tooth."""
    values = [
        choice.cue
        for item in talk_.items
        for choice in talk_.choices(item.entry, {"tooth": talk_.choices("tooth", {})[0].value})
    ]
    return (*values, *(item.change for item in talk_.items), *talk_.cues, *general)


def _typed(requests: Requests) -> list[Press | Typed]:
    left: list[Press | Typed] = []
    while True:
        try:
            asked = requests.get_nowait()
        except Empty:
            return left
        if isinstance(asked, Press | Typed):
            left.append(asked)


def _wait_until_quiet(preparing: Preparing, clock: WallClock) -> None:
    end = clock.now() + 5.0
    while preparing.speaking(clock.now()) and clock.now() < end:
        time.sleep(0.05)


def _tell(fault: str) -> None:
    typer.echo(f"sidecue: {fault}", err=True)


def _nothing() -> None:
    """Page and voice go on when nothing more is typed."""
