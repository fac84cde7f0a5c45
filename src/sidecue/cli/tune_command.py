"""`sidecue tune`: set the thresholds of the ears for one voice, microphone and room."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import closing
from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from sidecue.cli.listening import Wanted, open_engine, refuse_unknown_words
from sidecue.cli.run_command import Loudspeaker, Mic, Model
from sidecue.cli.setting import (
    DEFAULT_CASE,
    DEFAULT_PRACTICE,
    CaseOption,
    FlowsOption,
    PracticeOption,
    setting,
)
from sidecue.cli.trouble import Trouble
from sidecue.cli.tuning_picture import drawing, terminal_lines
from sidecue.cli.tuning_room import Room, sitting_in
from sidecue.cli.tuning_told import confusion_lines, measured, told
from sidecue.conductor.assembly import (
    ENGINES,
    TUNABLE,
    Output,
    named,
    shipped_numbers,
    shipped_thresholds,
)
from sidecue.conductor.sitting import Sitting
from sidecue.hearing.as_decided import AsDecided
from sidecue.hearing.lexicon import Lexicon
from sidecue.hearing.own_tuning import Tuning, fingerprint, forget, keep, own_tunings
from sidecue.hearing.own_words import own_pairs
from sidecue.hearing.rewording import confused
from sidecue.hearing.tuning import FEWEST_RIGHT, Thresholds, Trial, choose, enough, expected
from sidecue.hearing.tuning_lines import Script


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("tune")
    def tune_command(
        case: CaseOption = DEFAULT_CASE,
        practice: PracticeOption = DEFAULT_PRACTICE,
        flows: FlowsOption = None,
        audio: Annotated[
            Path | None,
            typer.Option(help="Listen to this recording, or a folder of them, instead."),
        ] = None,
        engine: Annotated[
            str,
            typer.Option(
                help="auto (the best installed), moonshine or pocketsphinx; vosk is measured alone."
            ),
        ] = "auto",
        model: Model = None,
        microphone: Mic = None,
        loudspeaker: Loudspeaker = None,
        mute: Annotated[
            bool, typer.Option("--mute", help="Show the phrases without reading them out.")
        ] = False,
        picture: Annotated[
            Path | None, typer.Option(help="Draw the trade-off into this .svg file too.")
        ] = None,
        phrases: Annotated[
            bool, typer.Option("--phrases", help="Only list what there is to say.")
        ] = False,
        forget_: Annotated[
            bool, typer.Option("--forget", help="Drop all that was tuned on this machine.")
        ] = False,
    ) -> None:
        """Fit the ears to your voice, your microphone and your room, in under three minutes.

        Sit where you work, with the suction running. Some twenty phrases of the case are read
        out, each to be said after; then talk for a minute as you do over a patient, without
        giving cues. From both, a threshold is set for each tier of cues, with what to expect of
        it: phrases missed, talk taken for a cue, and how sure that is. Cues that this voice is
        not heard well with are named, with another phrase to say.

        Thresholds move within bounds. Guarded and stopping cues never get easier than they come:
        twenty phrases cannot show that that would be safe.

        Vosk decides by itself: how it hears you is measured in the same way, and nothing is set.

        Nothing of the sound is kept, only numbers, on this machine: one set for each engine and
        microphone. `sidecue run` and `sidecue doctor` say when they are in force.

        \b
        sidecue tune                                   the default microphone
        sidecue tune --microphone headset --picture trade-off.svg
        sidecue tune --mute                            read the phrases yourself
        sidecue tune --engine vosk --model NAME        how well Vosk hears you
        sidecue tune --phrases                         what there is to say
        sidecue tune --forget                          back to the shipped thresholds

        \b
        With recordings nobody waits for anybody. Nothing is set unless --microphone names what
        they were made with:
          a folder   one phrase a file, named by its words (okay-tray-bite-marked.wav), and
                     files named talk... of ordinary talk
          a file     the phrases in the order of --phrases, then the talk

        \b
        sidecue tune --audio recordings
        sidecue tune --audio sitting.flac --microphone "Desk microphone"

        Exit code 1 when too few phrases were heard to set anything.
        """
        if forget_:
            typer.echo(
                "forgotten: the shipped thresholds hold again" if forget() else "nothing was tuned"
            )
            return
        chosen = named(engine)
        if chosen not in ENGINES:
            raise Trouble(
                f"{engine!r} cannot be tuned: choose --engine {' or '.join(TUNABLE)}; "
                "vosk can be measured"
            )
        if picture is not None and chosen not in TUNABLE:
            raise Trouble(f"{chosen} decides by itself: no trade-off to draw; leave --picture out")
        if picture is not None and picture.suffix.lower() != ".svg":
            raise Trouble(f"{picture}: the picture is drawn as .svg: change the file's name")
        if picture is not None and not picture.parent.is_dir():
            raise Trouble(f"{picture.parent}: no such folder for the picture: make it first")
        plan = setting(case, practice, None, flows).plan
        script = Script(plan)
        if phrases:
            for line in script.chosen():
                typer.echo(line.said)
            return
        own_tunings()  # a damaged file is told now, not after the sitting
        wanted = Wanted(chosen, model, audio=audio, microphone=microphone)
        wanted.check()
        with closing(open_engine(wanted)) as recogniser:
            refuse_unknown_words(plan, recogniser)
            heard_by = recogniser if chosen in TUNABLE else AsDecided(recogniser)
            room = Room(plan, script, heard_by, Output(mute, None, loudspeaker))
            sitting, used = sitting_in(room, wanted)
        if chosen in TUNABLE:
            _finish(room, sitting, chosen, used, picture)
        else:
            _tell_measured(room, sitting, chosen)


def _finish(
    room: Room, sitting: Sitting, engine: str, microphone: str | None, picture: Path | None
) -> None:
    """Tell what came of it, draw it, and keep the thresholds. Exits with 1 for too little."""
    numbers = shipped_numbers(engine)
    shipped, trials = numbers.thresholds, sitting.trials
    thresholds = choose(trials, sitting.talk, shipped)
    typer.echo("")
    for line in (
        *told(sitting, shipped, thresholds),
        "",
        *terminal_lines(trials, sitting.talk, thresholds),
        "",
    ):
        typer.echo(line)
    _tell_confused(room, trials, thresholds)
    if picture is not None:
        title = f"{engine}, {microphone or 'recordings'}: what a threshold costs"
        picture.write_text(drawing(trials, sitting.talk, shipped, thresholds, title), "utf-8")
        typer.echo(f"wrote {picture}")
    if not enough(trials):
        right = sum(trial.right for trial in trials)
        typer.echo(
            f"nothing was set: {right} of {len(trials)} phrases were heard right, and it takes "
            f"{FEWEST_RIGHT} and half of them; come nearer to the microphone, or use another"
        )
        raise typer.Exit(1)
    if microphone is None:
        typer.echo("nothing was set: --microphone NAME tells which one the recordings are of")
        return
    worth = expected(trials, sitting.talk, shipped).whole
    keep(
        Tuning(
            engine=engine,
            microphone=microphone,
            made=date.today().isoformat(),
            ears=fingerprint(numbers),
            thresholds=thresholds,
            phrases=len(trials),
            missed=worth.missed.count,
            stretches=len(sitting.talk),
            taken=worth.taken.count,
        )
    )
    typer.echo(f"set for {engine} with {microphone!r}; `sidecue tune --forget` drops it")


def _tell_measured(room: Room, sitting: Sitting, engine: str) -> None:
    """Tell how an engine that decides by itself heard it."""
    thresholds = shipped_thresholds(engine)
    typer.echo("")
    for line in measured(sitting, thresholds):
        typer.echo(line)
    _tell_confused(room, sitting.trials, thresholds)
    typer.echo(f"nothing was set: {engine} decides by itself")


def _tell_confused(room: Room, trials: Sequence[Trial], thresholds: Thresholds) -> None:
    moments = {line.cue.id: (line.cue, line.moment) for line in room.script.every()}
    spell = Lexicon((*own_pairs(), *room.plan.pronunciations)).spell
    found = list(confused(trials, moments.values(), thresholds, spell))
    if not found:
        typer.echo("Every phrase was heard well.")
        return
    for line in confusion_lines(found, len(trials)):
        typer.echo(line)
