"""However the shipped files are damaged, what comes out is a fault with a line, or a library."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from random import Random

import pytest

from shipped_library import shipped
from sidecue.assets import data_folder
from sidecue.procedure.folder import FOLDERS, SINGLE
from sidecue.procedure.loading import load_library
from sidecue.procedure.reading import read_model
from sidecue.procedure.schema import FileModel, ProcedureFile, RepeatEntry, StepEntry
from sidecue.procedure.source import LoadError, Sourced, read_document
from sidecue.procedure.walking import walk

Damage = Callable[[bytes, Random], bytes]


def cut_off(data: bytes, random: Random) -> bytes:
    return data[: random.randrange(len(data))]


def lost_bytes(data: bytes, random: Random) -> bytes:
    start = random.randrange(len(data))
    return data[:start] + data[start + random.randrange(1, 40) :]


def noise(data: bytes, random: Random) -> bytes:
    start = random.randrange(len(data))
    return data[:start] + random.randbytes(random.randrange(1, 6)) + data[start:]


def odd_sign(data: bytes, random: Random) -> bytes:
    start = random.randrange(len(data))
    sign = random.choice(
        [b"\t", b"[", b"]", b"{", b"}", b":", b"- ", b"&a ", b"*a ", b"!!x ", b"'"]
    )
    return data[:start] + sign + data[start:]


def lost_line(data: bytes, random: Random) -> bytes:
    lines = data.splitlines(keepends=True)
    del lines[random.randrange(len(lines))]
    return b"".join(lines)


def line_twice(data: bytes, random: Random) -> bytes:
    lines = data.splitlines(keepends=True)
    number = random.randrange(len(lines))
    return b"".join([*lines[: number + 1], *lines[number:]])


def swapped_lines(data: bytes, random: Random) -> bytes:
    lines = data.splitlines(keepends=True)
    one, two = random.randrange(len(lines)), random.randrange(len(lines))
    lines[one], lines[two] = lines[two], lines[one]
    return b"".join(lines)


def moved_line(data: bytes, random: Random) -> bytes:
    lines = data.splitlines(keepends=True)
    number = random.randrange(len(lines))
    lines[number] = b"  " * random.randrange(4) + lines[number].lstrip()
    return b"".join(lines)


def other_word(data: bytes, random: Random) -> bytes:
    words = data.split(b" ")
    words[random.randrange(len(words))] = random.choice(words)
    return b" ".join(words)


def misspelt(data: bytes, random: Random) -> bytes:
    places = [number for number, byte in enumerate(data) if chr(byte).isalpha()]
    place = random.choice(places)
    return data[:place] + bytes([random.choice(b"aeioustxz")]) + data[place + 1 :]


DAMAGES: tuple[Damage, ...] = (
    cut_off, lost_bytes, noise, odd_sign, lost_line, line_twice, swapped_lines, moved_line,
    other_word, misspelt,
)  # fmt: skip
#: Damage that mostly leaves readable YAML, so that the meaning is what goes wrong.
SUBTLE: tuple[Damage, ...] = (lost_line, line_twice, swapped_lines, other_word, misspelt)


def shipped_files() -> list[tuple[Path, type[FileModel]]]:
    flows = data_folder("flows")
    files = [(flows / name, model) for name, model in SINGLE.items()]
    for name, model in FOLDERS.items():
        files += [(path, model) for path in sorted((flows / name).glob("*.yaml"))]
    return files


def good_faults(error: LoadError) -> None:
    assert error.faults
    assert len(str(error).splitlines()) == len(error.faults)
    for fault in error.faults:
        lines = Path(fault.file).read_bytes().count(b"\n") + 1 if Path(fault.file).is_file() else 1
        assert 1 <= fault.line <= lines, str(fault)
        assert fault.what, str(fault)
        assert fault.mend, str(fault)
        assert "Traceback" not in str(fault)


@pytest.mark.parametrize("damage", DAMAGES, ids=lambda damage: damage.__name__)
def test_thirty_damaged_files_of_each_kind_are_faults_or_files(
    tmp_path: Path, damage: Damage
) -> None:
    random = Random(damage.__name__)
    files, refused = shipped_files(), 0
    for number in range(30):
        path, model = random.choice(files)
        broken = tmp_path / f"{number}.yaml"
        broken.write_bytes(damage(path.read_bytes(), random))
        try:
            read_model(read_document(broken), model)
        except LoadError as error:
            good_faults(error)
            refused += 1
    assert refused or damage in SUBTLE


@pytest.mark.parametrize("damage", SUBTLE, ids=lambda damage: damage.__name__)
def test_a_library_with_a_few_damaged_files_is_a_library_or_faults(
    tmp_path: Path, damage: Damage
) -> None:
    random = Random(damage.__name__)
    refused = 0
    for number in range(5):
        folder = tmp_path / str(number)
        shutil.copytree(
            data_folder("flows"), folder, ignore=shutil.ignore_patterns("drawings", "*.svg")
        )
        for path in random.sample(sorted(folder.rglob("*.yaml")), 3):
            path.write_bytes(damage(path.read_bytes(), random))
        try:
            load_library(folder)
        except LoadError as error:
            good_faults(error)
            refused += 1
    assert refused


def without(step: StepEntry, fact: str) -> StepEntry:
    """Return the step as if nobody had written that it needs or establishes `fact`."""

    def rest(facts: list[str]) -> list[str]:
        return [each for each in facts if each != fact]

    begin = step.begin and step.begin.model_copy(
        update={"establishes": rest(step.begin.establishes)}
    )
    return step.model_copy(
        update={
            "needs": rest(step.needs),
            "establishes": rest(step.establishes),
            "begin": begin,
        }
    )


def forgetting(file: ProcedureFile, fact: str) -> ProcedureFile:
    """Return the file with `fact` forgotten in every step."""
    entries: list[object] = []
    for entry in file.steps:
        if isinstance(entry, StepEntry):
            entries.append(without(entry, fact))
        elif isinstance(entry, RepeatEntry):
            steps = [without(step, fact) for step in entry.steps]
            entries.append(entry.model_copy(update={"steps": steps}))
        else:
            entries.append(entry)
    return file.model_copy(update={"steps": entries})


def test_a_fact_an_interlock_needs_cannot_be_forgotten() -> None:
    library = shipped()
    needed = {need for rule in library.rules for need in rule.needs if rule.act is not None}
    assert needed
    for need in sorted(needed):
        files = {
            name: Sourced(forgetting(source.model, need), source.document)
            for name, source in library.procedures.items()
        }
        found = (
            fault
            for visit in library.visits
            for fault in walk(files, visit, library.rules)
            if "breaks the interlock" in fault.what
        )
        assert next(found, None) is not None, need
