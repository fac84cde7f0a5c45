"""Putting a chair together: which ears, which mouth, which store, from plain choices."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

import platformdirs

from sidecue.hearing import acceptance, encoder, weighing
from sidecue.hearing.acceptance import Acceptance
from sidecue.hearing.as_decided import DECIDED
from sidecue.hearing.own_tuning import Tuning, tuning_for
from sidecue.hearing.own_words import own_pairs
from sidecue.hearing.port import Recogniser
from sidecue.procedure.plan import Tier
from sidecue.speaking.cache import CachedVoice, default_folder
from sidecue.speaking.loudspeaker import PortAudioLoudspeaker
from sidecue.speaking.mouth import Mouth
from sidecue.speaking.mute import MuteLoudspeaker
from sidecue.speaking.port import Loudspeaker
from sidecue.speaking.recorder import FileLoudspeaker
from sidecue.speaking.voice import PyttsVoice

ENGINES = ("moonshine", "pocketsphinx", "vosk")
TUNABLE = ("moonshine", "pocketsphinx")  # Vosk's own confidence may veto, never vouch


def store_path() -> Path:
    """Where the sessions of this person's machine are kept."""
    return platformdirs.user_data_path("sidecue") / "journal.sqlite3"


@dataclass(frozen=True, slots=True)
class Output:
    """Where prompts go: a loudspeaker by name, a WAV file, or nowhere (`mute`)."""

    mute: bool = False
    to_file: Path | None = None
    loudspeaker: str | None = None


def mouth_of(output: Output, on_fault: Callable[[str], None], likely: Iterable[str] = ()) -> Mouth:
    """Return a mouth. Muted and recorded ones keep the timing of a sounding one, which alone has
    the `likely` prompts rendered ahead, in the background."""
    speaker: Loudspeaker
    if output.to_file is not None:
        speaker = FileLoudspeaker(output.to_file, origin=0.0)
    elif output.mute:
        speaker = MuteLoudspeaker()
    else:
        speaker = PortAudioLoudspeaker(output.loudspeaker or "")
    voice = CachedVoice(PyttsVoice(), default_folder())
    if isinstance(speaker, PortAudioLoudspeaker):
        voice.prepare(likely)
    return Mouth(voice, speaker, on_fault)


def recogniser_of(engine: str, model: str | None, microphone: str | None = None) -> Recogniser:
    """Return an engine by name: one of ENGINES, or `auto` for the best that is installed.

    `model` is the name or folder of Vosk's model. With a `microphone` (its whole name) the
    thresholds that were tuned to it hold, where there are such. Raises ValueError for moonshine
    where its wheel is missing, ModelError for a model that cannot be used, LoadError when the file
    of added pronunciations or of tunings is damaged.
    """
    engine = named(engine)
    if engine == "vosk":
        from sidecue.hearing.models import find_model
        from sidecue.hearing.vosk_engine import VoskRecogniser

        return VoskRecogniser(find_model(model) if model is not None else None)
    numbers = shipped_numbers(engine)
    tuning = None if microphone is None else tuning_for(engine, microphone)
    if tuning is not None and tuning.fits(numbers):
        numbers = tuning.applied(numbers)
    if engine == "moonshine":
        from sidecue.hearing.moonshine import MoonshineRecogniser

        return MoonshineRecogniser(numbers, words=own_pairs())
    from sidecue.hearing.sphinx import SphinxRecogniser

    return SphinxRecogniser(numbers, words=own_pairs())


def tuning_told(engine: str, microphone: str) -> str | None:
    """Return in a line whether a tuning is in force for an engine and a microphone; None where
    there is none. Raises LoadError when their file is damaged."""
    engine = named(engine)
    tuning = tuning_for(engine, microphone) if engine in TUNABLE else None
    return None if tuning is None else told_of(tuning)


def told_of(tuning: Tuning) -> str:
    """Return what a tuning is worth now, in a line."""
    made = f"{tuning.engine} with {tuning.microphone!r}, tuned on {tuning.made}"
    if not in_force(tuning):
        return f"{made} for other ears than these, not in force: tune again with `sidecue tune`"
    return (
        f"{made}: {tuning.missed} of {tuning.phrases} phrases missed, {tuning.taken} of "
        f"{tuning.stretches} stretches of talk taken for a cue; `sidecue tune --forget` drops it"
    )


def in_force(tuning: Tuning) -> bool:
    """True when it was made with the numbers of the ears that are installed."""
    return tuning.engine in TUNABLE and tuning.fits(shipped_numbers(tuning.engine))


def shipped_numbers(engine: str) -> Acceptance:
    """The acceptance numbers that come with an engine of TUNABLE."""
    if engine == "moonshine":
        return acceptance.shipped("phones", weighing.FEATURES)
    return acceptance.shipped()


def shipped_thresholds(engine: str) -> Mapping[Tier, float]:
    """The thresholds that come with an engine; for one that decides by itself, what it decides."""
    return shipped_numbers(engine).thresholds if engine in TUNABLE else DECIDED


def named(engine: str) -> str:
    """Return the engine that `auto` stands for, or `engine` itself."""
    return embedded() if engine == "auto" else engine


def embedded() -> str:
    """The best engine that came with the installation: where moonshine's wheel could not be
    installed, pocketsphinx."""
    return "moonshine" if encoder.model_file() is not None else "pocketsphinx"
