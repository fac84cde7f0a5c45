"""What a live visit needs of this machine, part by part; no part's failure hides another."""

from __future__ import annotations

import platform
import shutil
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from enum import StrEnum
from functools import partial
from pathlib import Path

import numpy as np

from sidecue.board.sizes import good_for
from sidecue.cli.listening import lack_line, words_lacking
from sidecue.cli.trouble import CLEAR, in_one_line
from sidecue.conductor.assembly import in_force, recogniser_of, told_of
from sidecue.devices.naming import Device
from sidecue.devices.portaudio import library
from sidecue.hearing import encoder
from sidecue.hearing.conditioning import can_denoise, to_mono_16k
from sidecue.hearing.microphone import Microphone, input_devices
from sidecue.hearing.models import list_models, model_places
from sidecue.hearing.own_tuning import own_tunings
from sidecue.hearing.port import RATE, Recogniser, Samples, Vocabulary
from sidecue.hearing.vosk_engine import VoskRecogniser
from sidecue.procedure.plan import Plan, Tier
from sidecue.procedure.source import LoadError
from sidecue.record.sqlite_journal import SqliteJournal
from sidecue.speaking.loudspeaker import PortAudioLoudspeaker, output_devices
from sidecue.speaking.port import Voice, VoiceError
from sidecue.speaking.voice import PyttsVoice

ROOM = 50 * 2**20  # bytes; a visit's journal takes less than one million
SPOKEN = 3  # phrases of the self-test
LISTEN = 1.5  # seconds given to a microphone to deliver something

SCREENS = (15.6, 21.5, 24.0, 27.0, 32.0)  # inches, as they are sold


class Verdict(StrEnum):
    """What became of a part."""

    WORKS = "works"
    MISSING = "missing"  # a live visit needs it
    OPTIONAL = "optional"  # it is not there, and a visit runs without it


@dataclass(frozen=True, slots=True)
class Part:
    """One part of the machine: what was found, and how to mend it (empty when nothing is to do)."""

    part: str
    verdict: Verdict
    what: str
    mend: str = ""


Parts = Iterator[Part]


@contextmanager
def _voice() -> Iterator[Voice]:
    voice = PyttsVoice(deadline=10.0)
    try:
        yield voice
    finally:
        voice.close()


def guarded(part: str, look: Callable[[], Parts], *, needed: bool = True) -> Parts:
    """Yield what `look` finds; anything it raises becomes a part that says so."""
    verdict = Verdict.MISSING if needed else Verdict.OPTIONAL
    try:
        yield from look()
    except LoadError as error:
        for fault in error.faults:
            yield Part(part, verdict, f"{fault.file}:{fault.line}: {fault.what}", fault.mend)
    except CLEAR as error:
        what, _, mend = in_one_line(error)[0].partition("; ")
        yield Part(part, verdict, what, mend)
    except Exception as error:  # noqa: BLE001 - whatever is broken here, the other parts are told
        what = " ".join(str(error).split()) or type(error).__name__
        yield Part(part, verdict, what, "install sidecue again: pip install --force-reinstall")


def python() -> Parts:
    """The interpreter this runs in."""
    found = f"Python {platform.python_version()} on {platform.system()} {platform.machine()}"
    good = sys.version_info >= (3, 11)
    mend = "" if good else "make the environment with Python 3.11 or newer"
    yield Part("python", Verdict.WORKS if good else Verdict.MISSING, found, mend)


def answers(plan: Plan) -> Parts:
    """Whether the case may start: nothing refuses it and every question is answered."""
    what = f"{plan.title}: {plan.case_line}, {len(plan.steps)} steps ({plan.practice})"
    if plan.startable:
        yield Part("plan", Verdict.WORKS, what)
    for block in plan.blocks:
        yield Part("plan", Verdict.MISSING, f"{plan.case_line}: {block.text}", block.source)
    for question in plan.questions:
        yield Part("plan", Verdict.MISSING, question.ask, question.mend)


def embedded_engine(plan: Plan) -> Parts:
    """The best engine installed: its model, the plan's words, and phrases in our own voice."""
    if encoder.model_file() is None:
        mend = "pip install 'moonshine-voice<0.0.70' if it has a wheel for this machine"
        what = "not installed; pocketsphinx hears instead, far less in noise"
        yield Part("ears: moonshine", Verdict.OPTIONAL, what, mend)
    recogniser = recogniser_of("auto", None)
    try:
        yield from _words(plan, recogniser)
        with _voice() as voice:
            yield _self_test(plan, recogniser, voice)
    finally:
        recogniser.close()


def _words(plan: Plan, recogniser: Recogniser) -> Parts:
    lacking = words_lacking(plan, recogniser)
    if not lacking:
        yield Part("words", Verdict.WORKS, f"{recogniser.name} knows every word of every cue")
    for each in lacking:
        what, _, mend = lack_line(each, recogniser.name).rpartition(": ")
        yield Part("words", Verdict.MISSING, what, mend)


def _self_test(plan: Plan, recogniser: Recogniser, voice: Voice) -> Part:
    """Decode phrases of the plan. Whether a synthetic voice is accepted is not the question."""
    cues = tuple(cue for cue in plan.cues if cue.tier is Tier.FREE)
    spoken = [cue.phrases[0] for cue in cues[:SPOKEN]]
    vocabulary = Vocabulary(
        plan.cues, plan.address, decoys=plan.decoys, pronunciations=plan.pronunciations
    )
    name = f"ears: {recogniser.name}"
    started = time.monotonic()
    heard = [
        recogniser.hear(_said(voice, f"{plan.address} {phrase}"), 0.0, vocabulary).phrase
        for phrase in spoken
    ]
    took = (time.monotonic() - started) / len(spoken)
    right = sum(said == got for said, got in zip(spoken, heard, strict=True))
    what = f"decodes {right} of {len(spoken)} phrases in our own voice, {took:.1f} s each"
    if 2 * right > len(spoken):
        return Part(name, Verdict.WORKS, what)
    return Part(name, Verdict.MISSING, what, f"install sidecue and {recogniser.name} again")


def _said(voice: Voice, text: str) -> Samples:
    sound = voice.render(text)
    quiet = np.zeros(RATE // 4, dtype=np.int16)
    return np.concatenate([quiet, to_mono_16k(sound.samples, sound.rate), quiet])


def tunings() -> Parts:
    """Whether the ears are tuned to a voice and a room, for each engine and microphone."""
    try:
        found = own_tunings()
    except LoadError as error:  # no session starts with it
        for fault in error.faults:
            what = f"{fault.file}:{fault.line}: {fault.what}"
            yield Part("tuning", Verdict.MISSING, what, fault.mend)
        return
    if not found:
        mend = "`sidecue tune` fits them to your voice and your room in three minutes"
        yield Part("tuning", Verdict.OPTIONAL, "none; the shipped thresholds hold", mend)
    for each in found:
        if in_force(each):
            yield Part("tuning", Verdict.WORKS, told_of(each))
        else:
            what, _, mend = told_of(each).rpartition(": ")
            yield Part("tuning", Verdict.OPTIONAL, what, mend)


def noise_filter() -> Parts:
    """The denoiser in front of the engine."""
    if can_denoise():
        yield Part("noise filter", Verdict.WORKS, "pyrnnoise loads")
    else:
        mend = "pip install pyrnnoise; without it, suction noise costs more cues"
        yield Part("noise filter", Verdict.OPTIONAL, "pyrnnoise does not load", mend)


def vosk_models(plan: Plan) -> Parts:
    """Each Vosk model folder: fit, loading, and which words it lacks."""
    found = list_models()
    if not found:
        where = " or ".join(str(place) for place in model_places())
        mend = f"`sidecue model get NAME`, or put a model's folder in {where}"
        yield Part("ears: vosk", Verdict.OPTIONAL, "no model", mend)
    for model in found:
        if model.fault:
            yield Part(
                "ears: vosk", Verdict.OPTIONAL, f"{model.name}: {model.fault}", str(model.path)
            )
        else:
            look = partial(_vosk_model, plan, model.path)
            yield from guarded("ears: vosk", look, needed=False)


def _vosk_model(plan: Plan, path: Path) -> Parts:
    recogniser = VoskRecogniser(path)
    try:
        lacking = sorted({each.word for each in words_lacking(plan, recogniser)})
    finally:
        recogniser.close()
    if not lacking:
        yield Part("ears: vosk", Verdict.WORKS, f"{path.name} loads and knows every word")
        return
    more = f" and {len(lacking) - 5} more" if len(lacking) > 5 else ""
    what = f"{path.name} loads; for this plan it lacks {', '.join(lacking[:5])}{more}"
    mend = "use a larger English model, or --engine pocketsphinx"
    yield Part("ears: vosk", Verdict.OPTIONAL, what, mend)


def voice_renders() -> Parts:
    """The voice: text becomes sound."""
    with _voice() as voice:
        started = time.monotonic()
        sound = voice.render("Rinse now.")
        took = time.monotonic() - started
        yield Part("voice", Verdict.WORKS, f"renders speech ({sound.lasts:.1f} s in {took:.1f} s)")


def sound_library() -> Parts:
    """PortAudio, for live sound."""
    version = library().get_portaudio_version()[1]
    yield Part("sound library", Verdict.WORKS, str(version).split(",", maxsplit=1)[0])


def microphones() -> Parts:
    """Inputs by name, and whether the one that would be used delivers sound."""
    found = input_devices()
    listed = _listed(found)
    if found and all(device.monitor for device in found):
        # It would open and hear the tool itself: worth more words than "none is there".
        what = f"there is none, only monitors: {listed}. A monitor records what a loudspeaker plays"
        mend = "plug a microphone in, or, to record a loudspeaker all the same, --microphone NAME"
        yield Part("microphone", Verdict.MISSING, what, mend)
        return
    microphone = Microphone()
    try:
        peak = _peak(microphone)
    finally:
        microphone.close()
    used = microphone.device.label
    if peak is None:
        mend = f"plug it in again, or choose another with --microphone NAME: {listed}"
        yield Part("microphone", Verdict.MISSING, f"{used} delivers nothing", mend)
    elif peak == 0:
        mend = f"unmute it, turn its level up, or choose another with --microphone NAME: {listed}"
        yield Part("microphone", Verdict.MISSING, f"{used} delivers digital silence", mend)
    else:
        yield Part("microphone", Verdict.WORKS, f"{used} delivers sound; all: {listed}")


def _peak(microphone: Microphone) -> int | None:
    """Return the highest level of the first sounding moments; None when nothing arrives."""
    until, peak = time.monotonic() + LISTEN, None
    for block in microphone.blocks():
        if len(block.samples):
            peak = max(peak or 0, int(np.abs(block.samples.astype(np.int32)).max()))
        if peak or time.monotonic() > until:
            break
    return peak


def _listed(devices: tuple[Device, ...]) -> str:
    names = {}
    for device in devices:
        marks = [
            word
            for word, holds in (
                ("default", device.default),
                ("monitor, not a microphone", device.monitor),
                ("output into nothing", device.dummy),
            )
            if holds
        ]
        label = device.label
        names[device.name] = f"{label} [{'; '.join(marks)}]" if marks else label
    return "; ".join(names.values())


def loudspeakers() -> Parts:
    """Outputs by name, and whether the one that would be used takes sound."""
    found = output_devices()
    if not found:
        raise VoiceError("no loudspeaker: none is there; plug one in, or run with --mute")
    speaker = PortAudioLoudspeaker()
    try:
        used = speaker.name
    finally:
        speaker.close()
    yield Part("loudspeaker", Verdict.WORKS, f"{used} takes sound; all: {_listed(found)}")


def board_screens() -> Parts:
    """From how far the board is read, by the screens that people have."""
    far = ", ".join(f"{inches:g} inches {good_for(inches):g} m" for inches in SCREENS)
    yield Part("board", Verdict.WORKS, f"every step is large enough up to: {far}")


def storage(store: Path) -> Parts:
    """The journal can be written, and there is room."""
    journal = SqliteJournal(store)
    try:
        journal.check()
        stored = len(journal.sessions())
    finally:
        journal.close()
    free = shutil.disk_usage(store.parent).free
    what = f"{store}: {stored} sessions, {free / 2**30:.1f} GiB free"
    if free < ROOM:
        yield Part("journal", Verdict.MISSING, what, "free some space on that disk")
    else:
        yield Part("journal", Verdict.WORKS, what)
