"""The work of a proof on two processes: several procedures each as a whole, a single one in halves.

A procedure by itself is halved by its variants, in the order of their making, so that the halves
differ in what the variants differ in first and share few states. A plan that comes up in both is
walked in one of them only: the counts are those of the undivided walk. The first variants' half is
walked here, the other in a process of its own, each with an atlas of its own.
"""

from __future__ import annotations

import gc
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, ProcessPoolExecutor, wait
from contextlib import contextmanager
from dataclasses import replace
from functools import partial
from hashlib import sha256
from multiprocessing import get_context
from pathlib import Path
from time import perf_counter

from sidecue.procedure.library import Library
from sidecue.procedure.practice import Practice
from sidecue.proof.atlas import Atlas
from sidecue.proof.cases import Census, census, expected_work, signature, variants_of
from sidecue.proof.proving import PLANNING, Tell, proven_all, walked
from sidecue.proof.remembering import digest, remember, remembered
from sidecue.proof.verdict import Proof

Progress = Callable[[float, float], None]  # so much done, of so much

_POLL = 0.2  # seconds between two looks at how far the workers are
#: From so much expected work on (see `expected_work`) a second process is worth its start.
_WORTH_TWO = 500


def prove(
    library: Library,
    practice: Practice,
    procedures: Iterable[str],
    *,
    workers: int = 2,
    progress: Progress = lambda _done, _all: None,
    kept: Path | None = None,
    again: bool = False,
) -> Iterator[Proof]:
    """Yield the proof of each procedure as it is done: all its plans, explored completely.

    The interlocks are the library's, whatever a plan holds. Proofs are remembered in the folder
    `kept`, if one is given; what is unchanged since is not walked again, unless `again`.
    """
    names = tuple(procedures)
    keys = {} if kept is None else {name: digest(library, practice, name) for name in names}
    left = []
    for name in names:
        known = None
        if kept is not None and not again:
            known = remembered(keys[name], name, kept)
        if known is None:
            left.append(name)
        else:
            yield known
    for proof in _walked(library, practice, left, workers, progress):
        if kept is not None:
            remember(keys[proof.procedure], proof, kept)
        yield proof


def _walked(
    library: Library, practice: Practice, names: Sequence[str], workers: int, progress: Progress
) -> Iterator[Proof]:
    work = {name: expected_work(library, name) for name in names}
    names = sorted(names, key=lambda name: -work[name])
    part = dict.fromkeys(names, 0.0)

    def told(name: str, done: float) -> None:
        part[name] = max(part[name], done)
        progress(sum(part[each] * work[each] for each in names), sum(work.values()))

    if len(names) <= 1 or workers == 1:
        atlas = Atlas()
        for name in names:
            with _undisturbed():
                if workers > 1 and work[name] >= _WORTH_TWO:
                    proof = proven_in_halves(library, practice, name, partial(told, name))
                else:
                    proof = proven_all(library, practice, name, atlas, partial(told, name))
            yield proof
            told(name, 1.0)
        return
    context = get_context()
    messages = context.SimpleQueue()
    begin = (library, practice, messages.put)
    with ProcessPoolExecutor(workers, context, initializer=_begin, initargs=begin) as pool:
        pending = {pool.submit(_proven_here, name) for name in names}
        while pending:
            done, pending = wait(pending, _POLL, FIRST_COMPLETED)
            while not messages.empty():
                told(*messages.get())
            for job in done:
                yield job.result()


@contextmanager
def _undisturbed() -> Iterator[None]:
    """Look for no rubbish meanwhile: nothing here goes round in circles, and looking for it costs
    a sixth of the time."""
    looked = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if looked:
            gc.enable()


#: What a worker process works with, and what it has learnt so far.
_HERE: dict[str, tuple[Library, Practice, Atlas, Callable[[tuple[str, float]], None]]] = {}
#: The half of a procedure that a worker process has counted and is still to walk, and the seconds
#: that counting it took.
_HALF: dict[str, tuple[Census, float]] = {}


def _begin(library: Library, practice: Practice, put: Callable[[tuple[str, float]], None]) -> None:
    gc.disable()  # as `_undisturbed`
    _HERE["work"] = library, practice, Atlas(), put


def _proven_here(name: str) -> Proof:
    library, practice, atlas, put = _HERE["work"]
    proof = proven_all(library, practice, name, atlas, lambda done: put((name, done)))
    put((name, 1.0))
    return proof


# -- halves ------------------------------------------------------------------------------------


def proven_in_halves(
    library: Library, practice: Practice, name: str, tell: Tell = lambda _done: None
) -> Proof:
    """Explore every plan of procedure `name`, half of its variants in a process of its own."""
    began = (library, practice, _unheard)
    with ProcessPoolExecutor(1, get_context(), initializer=_begin, initargs=began) as pool:
        counting = pool.submit(_counted_there, name)
        start = perf_counter()
        here = _half(library, practice, name, 0)
        took = perf_counter() - start
        tell(PLANNING)
        known, marks = set(_marks(here)), counting.result()
        both = [mark for mark in marks if mark in known]
        middle = len(both) // 2
        walking = pool.submit(_walked_there, name, frozenset(both[middle:]))
        mine = walked(library, name, _without(here, both[:middle]), Atlas(), tell)
        mine.seconds += took
        return together(mine, walking.result())


def _unheard(_told: tuple[str, float]) -> None:
    """How far the other half is tells about as much as how far this one is."""


def _counted_there(name: str) -> list[str]:
    library, practice, _, _ = _HERE["work"]
    start = perf_counter()
    counted = _half(library, practice, name, 1)
    _HALF[name] = counted, perf_counter() - start
    return _marks(counted)


def _walked_there(name: str, elsewhere: Collection[str]) -> Proof:
    library, _, atlas, _ = _HERE["work"]
    counted, took = _HALF.pop(name)
    proof = walked(library, name, _without(counted, elsewhere), atlas, lambda _done: None)
    proof.seconds += took
    return proof


def _half(library: Library, practice: Practice, name: str, number: int) -> Census:
    variants = list(variants_of(library, name))
    middle = len(variants) // 2
    return census(library, name, practice, variants[middle:] if number else variants[:middle])


def _marks(counted: Census) -> list[str]:
    """Return what tells the plans of a census from all others, in any process."""
    return [
        sha256(repr(signature(each.variant.plan)).encode()).hexdigest() for each in counted.distinct
    ]


def _without(counted: Census, elsewhere: Collection[str]) -> Census:
    """Return a census without the plans that are walked elsewhere; its variants stay counted."""
    if not elsewhere:
        return counted
    left = zip(counted.distinct, _marks(counted), strict=True)
    return replace(counted, distinct=[each for each, mark in left if mark not in elsewhere])


def together(one: Proof, other: Proof) -> Proof:
    """Return what two halves came to, a fault of both told once."""
    known = {fault.broken for _, fault in one.violations}
    more = [each for each in other.violations if each[1].broken not in known]
    return Proof(
        one.procedure,
        variants=one.variants + other.variants,
        refused=one.refused + other.refused,
        unmade=one.unmade + other.unmade,
        distinct=one.distinct + other.distinct,
        explored=one.explored + other.explored,
        states=one.states + other.states,
        transitions=one.transitions + other.transitions,
        tried=one.tried + other.tried,
        seconds=one.seconds + other.seconds,
        violations=[*one.violations, *more],
        samples=(*one.samples, *other.samples),
    )
