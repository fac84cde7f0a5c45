"""`sidecue say-word`: hear how a word is expected to sound, and add how it sounds here."""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator, Sequence
from contextlib import closing
from pathlib import Path
from typing import Annotated

import typer

from sidecue.cli.setting import DEFAULT_PRACTICE, FlowsOption, PracticeOption, practice_setting
from sidecue.cli.trouble import Trouble
from sidecue.clinical.errors import ClinicalError
from sidecue.hearing.lexicon import Lexicon
from sidecue.hearing.own_words import (
    OwnWords,
    Phones,
    keep,
    own_pairs,
    own_words,
    own_words_path,
    phones_of,
    plain_word,
    respelled,
    with_way,
)
from sidecue.procedure.case import CaseFault
from sidecue.procedure.library import Library
from sidecue.procedure.loading import placed_case
from sidecue.procedure.phones import distances
from sidecue.procedure.planning import PlanError, choose_procedure, plan
from sidecue.procedure.practice import Practice
from sidecue.procedure.vocabulary import words as words_of
from sidecue.speaking.loudspeaker import PortAudioLoudspeaker
from sidecue.speaking.port import Loudspeaker
from sidecue.speaking.recorder import FileLoudspeaker
from sidecue.speaking.voice import PyttsVoice

#: Words of cues nearer than this are told: one phone in four another, or two a little.
NEAR = 0.25
#: A way of saying a known word that is farther than this from every known way is told.
UNLIKE = 0.6
SHOWN = 5
GAP = 0.4  # seconds between two ways of saying a word


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("say-word")
    def say_word_command(
        word: Annotated[str | None, typer.Argument(help="One word of a cue.")] = None,
        like: Annotated[
            str | None, typer.Option(help='Add how it sounds, in known words: "den teen".')
        ] = None,
        phones: Annotated[
            str | None, typer.Option(help='Add how it sounds, in phones: "D EH N T IY N".')
        ] = None,
        remove: Annotated[
            bool, typer.Option("--remove", help="Forget what you added for this word.")
        ] = False,
        listed: Annotated[
            bool, typer.Option("--list", help="List every pronunciation you added.")
        ] = False,
        to: Annotated[
            Path | None, typer.Option(help="Write the sound to this .wav file instead.")
        ] = None,
        mute: Annotated[bool, typer.Option("--mute", help="Only show the phones.")] = False,
        loudspeaker: Annotated[
            str | None, typer.Option(help="Loudspeaker, by (part of) its name.")
        ] = None,
        practice: PracticeOption = DEFAULT_PRACTICE,
        flows: FlowsOption = None,
    ) -> None:
        """Hear how the ears expect a word to be said, and add how it is said here.

        Without an option the word is shown in phones and played. What you add stands beside the
        pronunciations that are known: each of them is heard. It is kept on this machine, is used
        by every session (not with --engine vosk) and by `sidecue check`, and is played back
        at once; words of cues that sound near it are named. The Vosk engine cannot be taught.

        \b
        sidecue say-word dentine                       shown and played
        sidecue say-word dentine --like "den tine"     added, in known words
        sidecue say-word dentine --phones "D EH N T AY N"
        sidecue say-word dentine --to dentine.wav      into a file
        sidecue say-word dentine --remove              forgotten again
        sidecue say-word --list

        \b
        The phones, each with a word it stands in:
          AA odd    AE at     AH hut    AO ought  AW cow    AY hide   EH red
          ER hurt   EY ate    IH it     IY eat    OW oat    OY toy    UH hood
          UW two    B be      CH cheese D dee     DH the    F fee     G green
          HH he     JH gee    K key     L lee     M me      N knee    NG ping
          P pea     R read    S sea     SH she    T tea     TH theta  V vee
          W we      Y yield   Z zoo     ZH measure
        """
        if listed:
            if any(each is not None for each in (word, like, phones, to)) or remove:
                raise Trouble("--list stands alone: leave the rest away")
            _list(own_words())
            return
        if word is None:
            raise Trouble("name the word, or use --list: `sidecue say-word dentine`")
        if sum((like is not None, phones is not None, remove)) > 1:
            raise Trouble("use one of --like, --phones and --remove")
        named, added = plain_word(word), own_words()
        library, office = practice_setting(practice, flows)
        lexicon = Lexicon((*own_pairs(), *library.pronunciations))
        if remove:
            _remove(named, added)
            return
        if like is not None or phones is not None:
            way = phones_of(phones or "") if like is None else respelled(like, lexicon.spell)
            for line in _told_of(named, way, lexicon, _cue_words(library, office)):
                typer.echo(line)
            _add(named, way, added)
            _sound([way], to, mute, loudspeaker)
            return
        ways = lexicon.spell(named)
        if not ways:
            raise Trouble(f"no lexicon knows {named!r}: add how it sounds, --like or --phones")
        for each in ways:
            mine = ", added by you" if each in added.get(named, ()) else ""
            typer.echo(f"{named}: {' '.join(each)}{mine}")
        _sound(ways, to, mute, loudspeaker)


def _list(added: OwnWords) -> None:
    if not added:
        typer.echo("nothing was added yet")
    for word, ways in sorted(added.items()):
        for way in ways:
            typer.echo(f"{word}: {' '.join(way)}")


def _remove(word: str, added: OwnWords) -> None:
    if word not in added:
        raise Trouble(f"nothing was added for {word!r}: `sidecue say-word --list` shows what was")
    keep({each: ways for each, ways in added.items() if each != word})
    typer.echo(f"forgotten: {word}, {len(added[word])} of yours")


def _add(word: str, way: Phones, added: OwnWords) -> None:
    keep(with_way(added, word, way))
    typer.echo(f"added: {word}: {' '.join(way)} ({own_words_path()})")
    typer.echo("`sidecue check` tells whether every cue is still far enough from the others")


def _told_of(word: str, way: Phones, lexicon: Lexicon, cue_words: Iterable[str]) -> Iterator[str]:
    """Yield what is worth a second thought. Raises Trouble for what is known already."""
    known = lexicon.spell(word)
    if way in known:
        raise Trouble(f"{word!r} is known to sound like {' '.join(way)}: nothing to add")
    if known and min(distances((way, each) for each in known)) > UNLIKE:
        yield f"quite unlike the known way, {' '.join(known[0])}: listen whether it is right"
    others = [(each, lexicon.spell(each)) for each in cue_words if each != word]
    pairs = [(each, spelled) for each, ways in others for spelled in ways]
    apart = distances((way, spelled) for _, spelled in pairs)
    nearest: dict[str, float] = {}
    for (each, _), value in zip(pairs, apart, strict=True):
        nearest[each] = min(value, nearest.get(each, 1.0))
    near = sorted((value, each) for each, value in nearest.items() if value < NEAR)
    for value, each in near[:SHOWN]:
        how = "sounds the same as" if value == 0 else f"{value:.2f} from"
        yield f"{how} {each!r}, a word of other cues"


def _cue_words(library: Library, office: Practice) -> frozenset[str]:
    """Return the words of all that may be said in the cases of the library."""
    found: set[str] = set()
    for source in library.cases.values():
        try:
            case = placed_case(source, office.notation)
            found |= words_of(plan(library, choose_procedure(library, case, office), case, office))
        except (CaseFault, PlanError, ClinicalError):
            continue  # not a case of this practice
    return frozenset(found)


def _sound(ways: Sequence[Phones], to: Path | None, mute: bool, loudspeaker: str | None) -> None:
    """Say each way, one after another, into the room or a file."""
    if mute and to is None:
        return
    if to is not None and to.suffix.lower() != ".wav":
        raise Trouble(f"{to}: the sound is written as .wav: change the file's name")
    with closing(PyttsVoice()) as voice:
        sounds = [voice.render_phones(way) for way in ways]
        speaker: Loudspeaker
        speaker = FileLoudspeaker(to) if to else PortAudioLoudspeaker(loudspeaker or "")
        with closing(speaker):
            now = 0.0 if to else time.monotonic()
            for sound in sounds:
                now = speaker.play(sound, now) + GAP
            if to is None:
                time.sleep(max(0.0, now - time.monotonic()))
    if to is not None:
        typer.echo(f"wrote {to}")
