"""What was proven before and has not changed since: kept in the user's cache folder.

A proof of a visit is a function of the files it is planned from, of the practice and of the code
that plans, runs and proves. Their digest names the entry; a change of any of them is another name,
and the visit is walked again. Only whole proofs without a fault are kept. Where an entry cannot be
read it does not exist; where it cannot be written nothing is remembered.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from dataclasses import asdict, replace
from functools import cache
from hashlib import sha256
from importlib.metadata import version
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any

from platformdirs import user_cache_path

from sidecue.procedure.library import Library
from sidecue.procedure.practice import Practice
from sidecue.procedure.schema import IncludeEntry
from sidecue.proof.cases import Sample
from sidecue.proof.verdict import Proof

#: The code that a proof rests on.
PACKAGES = ("clinical", "procedure", "session", "proof")
#: So many proofs of one visit are kept: a branch or two, and some edits back.
KEPT = 8


def folder() -> Path:
    """Return where proofs are kept."""
    return user_cache_path("sidecue") / "proofs"


def digest(library: Library, practice: Practice, visit: str) -> str:
    """Return the digest of all that the proof of `visit` rests on."""
    read = sha256(code().encode())
    for name in sorted(_closure(library, visit)):
        read.update(repr(library.procedures[name].model).encode())
    shared = (
        library.instruments, library.cautions, library.facts, library.rules, library.address,
        library.cues, library.skip_reasons, library.decoys, library.pronunciations,
        library.emergencies, library.prompts, library.advice, library.clashes, practice,
    )  # fmt: skip
    read.update(repr((visit, *shared)).encode())
    return read.hexdigest()


@cache
def code() -> str:
    """Return the digest of the code, of Python and of the library the machine is built on."""
    read = sha256(f"{sys.version} {version('transitions')}".encode())
    for package in PACKAGES:
        for name, content in sorted(_sources(files("sidecue") / package)):
            read.update(name.encode())
            read.update(content)
    return read.hexdigest()


def remembered(key: str, visit: str, where: Path) -> Proof | None:
    """Return the proof kept under `key`, or None."""
    try:
        kept = json.loads((where / f"{visit}-{key}.json").read_text("utf-8"))
        samples = tuple(_sample(each) for each in kept.pop("samples"))
        proof = Proof(**kept, samples=samples)
    except (OSError, ValueError, TypeError, LookupError, AttributeError):
        return None
    return replace(proof, remembered=True) if proof.procedure == visit and proof.sound else None


def remember(key: str, proof: Proof, where: Path) -> None:
    """Keep `proof` under `key` when it is sound, and drop the oldest of its visit."""
    if not proof.sound:
        return
    try:
        where.mkdir(parents=True, exist_ok=True)
        new = where / f"{proof.procedure}-{key}.json.new"
        new.write_text(json.dumps(asdict(proof)), "utf-8")
        new.replace(new.with_suffix(""))
        for old in _oldest(proof.procedure, where):
            old.unlink(missing_ok=True)
    except OSError:
        return  # a cache that cannot be written is none


def _sample(kept: dict[str, Any]) -> Sample:
    facts = tuple((key, tuple(values)) for key, values in kept["facts"])
    return Sample(facts, float(kept["depth"]))


def _oldest(visit: str, where: Path) -> list[Path]:
    pattern = f"{visit}-{'[0-9a-f]' * 64}.json"
    newest = sorted(where.glob(pattern), key=lambda each: each.stat().st_mtime, reverse=True)
    return newest[KEPT:]


def _closure(library: Library, name: str) -> Iterator[str]:
    """Yield a visit and every part it includes, some more than once."""
    yield name
    for entry in library.procedures[name].model.steps:
        if isinstance(entry, IncludeEntry):
            yield from _closure(library, entry.include)


def _sources(place: Traversable) -> Iterator[tuple[str, bytes]]:
    for each in place.iterdir():
        if each.is_dir():
            yield from ((f"{each.name}/{name}", content) for name, content in _sources(each))
        elif each.name.endswith((".py", ".yaml")):
            yield each.name, each.read_bytes()
