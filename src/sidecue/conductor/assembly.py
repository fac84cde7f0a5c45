"""Putting a chair together: which ears, which mouth, which store, from plain choices."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

import platformdirs

from sidecue.hearing import encoder
from sidecue.hearing.own_words import own_pairs
from sidecue.hearing.port import Recogniser
from sidecue.speaking.cache import CachedVoice, default_folder
from sidecue.speaking.loudspeaker import PortAudioLoudspeaker
from sidecue.speaking.mouth import Mouth
from sidecue.speaking.mute import MuteLoudspeaker
from sidecue.speaking.port import Loudspeaker
from sidecue.speaking.recorder import FileLoudspeaker
from sidecue.speaking.voice import PyttsVoice

ENGINES = ("moonshine", "pocketsphinx", "vosk")


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


def recogniser_of(engine: str, model: str | None) -> Recogniser:
    """Return an engine by name: one of ENGINES, or `auto` for the best that is installed.

    `model` is the name or folder of Vosk's model. Raises ValueError for moonshine where its
    wheel is missing, ModelError for a model that cannot be used, LoadError when the file of
    added pronunciations is damaged.
    """
    if engine == "auto":
        engine = embedded()
    if engine == "moonshine":
        from sidecue.hearing.moonshine import MoonshineRecogniser

        return MoonshineRecogniser(words=own_pairs())
    if engine == "vosk":
        from sidecue.hearing.models import find_model
        from sidecue.hearing.vosk_engine import VoskRecogniser

        return VoskRecogniser(find_model(model) if model is not None else None)
    from sidecue.hearing.sphinx import SphinxRecogniser

    return SphinxRecogniser(words=own_pairs())


def embedded() -> str:
    """The best engine that came with the installation: where moonshine's wheel could not be
    installed, pocketsphinx."""
    return "moonshine" if encoder.model_file() is not None else "pocketsphinx"
