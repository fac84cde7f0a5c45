"""Phrases and prompts: what can be spoken, heard, and told apart.

A prompt has at most eight words for every case, the verb first. A phrase is made of plain words,
and means one thing wherever it can be heard.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sidecue.procedure.beginnings import beginning_fault
from sidecue.procedure.gathering import Gathered
from sidecue.procedure.library import steps_of
from sidecue.procedure.library_schema import (
    AdviceFile,
    CautionsFile,
    CuesFile,
    EmergenciesFile,
    PromptsFile,
    RulesFile,
)
from sidecue.procedure.preferences import wording_fault
from sidecue.procedure.schema import (
    PracticeFile,
    ProcedureFile,
)
from sidecue.procedure.source import Document, Fault, Place
from sidecue.procedure.words import (
    MOST_WORDS,
    placeholders,
    speakable,
    unknown_placeholders,
    unpaired,
)

#: Fewest words of an address phrase.
LEAST_ADDRESS = 2

#: Phones the pronunciations may use (ARPAbet without stress).
PHONES = frozenset({
    "AA", "AE", "AH", "AO", "AW", "AY", "B", "CH", "D", "DH", "EH", "ER", "EY", "F", "G", "HH",
    "IH", "IY", "JH", "K", "L", "M", "N", "NG", "OW", "OY", "P", "R", "S", "SH", "T", "TH", "UH",
    "UW", "V", "W", "Y", "Z", "ZH",
})  # fmt: skip


@dataclass(frozen=True)
class _Heard:
    """A phrase, what it means, and where it stands."""

    phrase: str
    meaning: str
    document: Document
    place: Place


def phrase_faults(gathered: Gathered) -> Iterator[Fault]:
    """Yield every fault of a prompt or a phrase."""
    yield from _prompts(gathered)
    yield from _pronunciations(gathered)
    for cues in gathered.of(CuesFile):
        yield from address_faults(cues.model.address, cues.document)
    always = list(_always(gathered))
    by_phrase: dict[str, _Heard] = {}
    for heard in always:
        yield from _spoken(heard, repeated=False, worded=False)
        yield from _clash(by_phrase, heard)
        by_phrase.setdefault(heard.phrase, heard)
    happenings = list(_happenings(gathered))
    for heard in happenings:
        yield from _spoken(heard, repeated=False)
        yield from _clash(by_phrase, heard)
    for heard in happenings:  # two happenings may share one where no case has both: see walking
        by_phrase.setdefault(heard.phrase, heard)
    for source in gathered.of(ProcedureFile):
        for place, step, repeated in steps_of(source.model):
            own: dict[str, _Heard] = {}
            begin = [] if step.begin is None else step.begin.cue
            for phrases, where, meaning in (
                (begin, ("begin", "cue"), f"{step.step} begun"),
                (step.cue, ("cue",), f"{step.step} done"),
            ):
                for heard in _phrases(phrases, meaning, source.document, (*place, *where)):
                    yield from _spoken(heard, repeated=repeated)
                    yield from _clash(by_phrase, heard)
                    yield from _clash(own, heard)
                    own.setdefault(heard.phrase, heard)


def address_faults(address: str | None, document: Document) -> Iterator[Fault]:
    """Yield a fault for an address phrase of one word: ordinary talk holds it too often."""
    if address is not None and len(address.split()) < LEAST_ADDRESS:
        yield document.fault(
            ("address",), f"the address phrase {address!r} is one word",
            "use two words or more, such as 'okay tray'",
        )  # fmt: skip


def _always(gathered: Gathered) -> Iterator[_Heard]:
    """Yield what can be heard at any step: general cues, reasons, emergencies, the address."""
    for source in gathered.of(CuesFile):
        document, file = source.document, source.model
        yield _Heard(file.address, "the address phrase", document, ("address",))
        for key, entries in (("cues", file.cues), ("skip-reasons", file.skip_reasons)):
            for number, entry in enumerate(entries):
                yield from _phrases(entry.phrases, entry.cue, document, (key, number, "phrases"))
        yield from _phrases(file.decoys, "a decoy", document, ("decoys",))
    for emergency, place, entry in gathered.entries(EmergenciesFile, "emergencies"):
        yield from _phrases(entry.heard, entry.emergency, emergency.document, (*place, "heard"))
    for practice in gathered.of(PracticeFile):
        address = practice.model.address
        if address is not None:
            yield _Heard(address, "an address phrase", practice.document, ("address",))


def _happenings(gathered: Gathered) -> Iterator[_Heard]:
    for source, place, entry in gathered.entries(ProcedureFile, "happenings"):
        yield from _phrases(entry.heard, entry.happening, source.document, (*place, "heard"))


def _phrases(
    phrases: Sequence[str], meaning: str, document: Document, place: Place
) -> Iterator[_Heard]:
    for number, phrase in enumerate(phrases):
        yield _Heard(" ".join(phrase.split()), meaning, document, (*place, number))


def _spoken(heard: _Heard, *, repeated: bool, worded: bool = True) -> Iterator[Fault]:
    if not speakable(heard.phrase) or unpaired(heard.phrase):
        yield heard.document.fault(
            heard.place, f"phrase {heard.phrase!r} cannot be spoken as written",
            "use plain words with single spaces; no hyphens or digits",
        )  # fmt: skip
    unknown = unknown_placeholders(heard.phrase, repeated) if worded else placeholders(heard.phrase)
    bad = [*unknown, *(name for name in placeholders(heard.phrase) if name == "n")]
    if bad:
        yield heard.document.fault(
            heard.place, f"phrase {heard.phrase!r} has {{{bad[0]}}}, which is not spoken here",
            "use a word in braces that is filled in with words",
        )  # fmt: skip


def _clash(taken: dict[str, _Heard], heard: _Heard) -> Iterator[Fault]:
    other = taken.get(heard.phrase)
    if other is not None:
        where = f"{other.document.file}:{other.document.line(other.place)}"
        what = (
            f"phrase {heard.phrase!r} means {heard.meaning!r} here and {other.meaning!r} in {where}"
        )
        mend = "use another phrase in one of them"
        yield heard.document.fault(heard.place, what, mend)


def _pronunciations(gathered: Gathered) -> Iterator[Fault]:
    for source in gathered.of(CuesFile):
        for word, phones in source.model.pronunciations.items():
            place = ("pronunciations", word)
            unknown = [phone for phone in phones.split() if phone not in PHONES]
            if unknown or not phones.split():
                what = f"the pronunciation of {word!r} has no phone {' '.join(unknown)!r}"
                yield source.document.fault(place, what, "write phones such as D EH N T IY N")
            if not speakable(word):
                yield source.document.fault(place, f"{word!r} is not one plain word", "split it")


def _prompts(gathered: Gathered) -> Iterator[Fault]:
    """Yield prompts that are too long or hold words in braces nobody fills in."""
    for document, place, text, repeated in _spoken_texts(gathered):
        refusal = wording_fault(text, repeated)
        if refusal is not None:
            yield document.fault(place, f"prompt {text!r} {refusal}", "shorten or correct it")
    for document, place, text in _told_to_do(gathered):
        refusal = beginning_fault(text)
        if refusal is not None:
            what, mend = f"prompt {text!r} {refusal}", "begin with what to do"
            yield document.fault(place, what, mend)
    for document, place, text, repeated in _written_texts(gathered):
        unknown = unknown_placeholders(text, repeated)
        if unknown or unpaired(text):
            word = f"the unknown word {{{unknown[0]}}}" if unknown else "a brace that stands alone"
            yield document.fault(place, f"{text!r} has {word}", "use a word of the closed list")
    for source in gathered.of(PromptsFile):
        for key, text in source.model.prompts.items():
            count = len(text.split())
            if count > MOST_WORDS or unpaired(text):
                what = f"prompt {text!r} has {count} words, at most {MOST_WORDS}"
                yield source.document.fault(("prompts", key), what, "shorten it")


Text = tuple[Document, Place, str, bool]


def _told_to_do(gathered: Gathered) -> Iterator[tuple[Document, Place, str]]:
    """Yield the prompts of steps and happenings: each tells what to do."""
    for source in gathered.of(ProcedureFile):
        for place, step, _ in steps_of(source.model):
            yield source.document, (*place, "say"), step.say
        for number, happening in enumerate(source.model.happenings):
            yield source.document, ("happenings", number, "say"), happening.say


def _spoken_texts(gathered: Gathered) -> Iterator[Text]:
    for source in gathered.of(ProcedureFile):
        document = source.document
        for place, step, repeated in steps_of(source.model):
            yield document, (*place, "say"), step.say, repeated
            for number, timer in enumerate(step.timers):
                if timer.overdue is not None:
                    where = (*place, "timers", number, "overdue")
                    yield document, where, timer.overdue.say, repeated
        for number, happening in enumerate(source.model.happenings):
            yield document, ("happenings", number, "say"), happening.say, False
    for caution, place, entry in gathered.entries(CautionsFile, "cautions"):
        yield caution.document, (*place, "say"), entry.say, False
    for rule, place, entry in gathered.entries(RulesFile, "rules"):
        yield rule.document, (*place, "say"), entry.say, False
    for emergency, place, entry in gathered.entries(EmergenciesFile, "emergencies"):
        for number, line in enumerate(entry.says):
            yield emergency.document, (*place, "says", number), line, False


def _written_texts(gathered: Gathered) -> Iterator[Text]:
    for source in gathered.of(ProcedureFile):
        for place, step, repeated in steps_of(source.model):
            yield source.document, (*place, "why"), step.why, repeated
    for advice, place, entry in gathered.entries(AdviceFile, "advice"):
        yield advice.document, (*place, "say"), entry.say, False
