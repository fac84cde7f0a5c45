"""The figures of the README, in one command: `python -m benchmarks.figures [--json FILE]`.

Everything is measured on the demo's recording, through the shipped pipeline. Times are wall clock
on an otherwise idle machine; the machine is named with them.
"""

from __future__ import annotations

import argparse
import json
import platform
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from rich.console import Console
from rich.progress import track
from rich.table import Table

from sidecue.assets import data_folder
from sidecue.cli.setting import DEFAULT_CASE, DEFAULT_PRACTICE, setting
from sidecue.conductor.assembly import recogniser_of
from sidecue.conductor.conducting import Conductor
from sidecue.hearing.ears import Ears
from sidecue.hearing.files import FileSource
from sidecue.procedure.plan import Plan
from sidecue.record.memory_journal import MemoryJournal
from sidecue.record.sqlite_journal import SqliteJournal
from sidecue.session.events import Event, HearingRefused
from sidecue.session.machine import SessionMachine
from sidecue.speaking.cache import CachedVoice
from sidecue.speaking.mouth import Mouth
from sidecue.speaking.mute import MuteLoudspeaker
from sidecue.speaking.voice import PyttsVoice

SIDECUE = Path(sys.executable).with_name("sidecue")
OPENED = "2026-01-01T09:00:00+00:00"


def main() -> None:
    """Measure, print a table, and write JSON when asked."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", type=Path, help="write the figures to this file")
    asked = parser.parse_args()
    plan = setting(DEFAULT_CASE, DEFAULT_PRACTICE).plan
    figures: dict[str, str] = {"machine": machine_name()}
    figures |= start_up()
    heard, events = listening(plan)
    figures |= heard
    figures |= machine_speed(plan, events)
    figures |= journal_speed(plan)
    table = Table("figure", "value")
    for name, value in figures.items():
        table.add_row(name, value)
    Console().print(table)
    if asked.json:
        asked.json.write_text(json.dumps(figures, indent=2) + "\n", encoding="utf-8")


def machine_name() -> str:
    """Return processor, cores and Python."""
    model = platform.processor() or platform.machine()
    for line in Path("/proc/cpuinfo").read_text("utf-8").splitlines():
        if line.startswith("model name"):
            model = line.partition(":")[2].strip()
            break
    cores = Path("/proc/cpuinfo").read_text("utf-8").count("processor\t")
    return f"{model}, {cores} cores, Python {platform.python_version()}"


def start_up() -> dict[str, str]:
    """Time the program from nothing to its answer, the middle of five runs."""
    return {
        "start-up, `sidecue --version`": f"{_run('--version'):.2f} s",
        "start-up, `sidecue plan`": f"{_run('plan', '--json'):.2f} s",
    }


def _run(*words: str) -> float:
    spent = []
    for _ in range(5):
        begun = time.perf_counter()
        subprocess.run([SIDECUE, *words], check=True, capture_output=True)
        spent.append(time.perf_counter() - begun)
    return statistics.median(spent)


def listening(plan: Plan) -> tuple[dict[str, str], list[Event]]:
    """Run the whole recording; time each utterance from its end to its effect."""
    journal = MemoryJournal()
    session = journal.open_session(plan, OPENED)
    mouth = Mouth(CachedVoice(PyttsVoice()), MuteLoudspeaker())
    conductor = Conductor(SessionMachine(plan), journal, session, mouth)
    begun = time.perf_counter()
    recogniser = recogniser_of("auto", None)
    loaded = time.perf_counter() - begun
    ears = Ears(recogniser, conductor.vocabulary)
    source = FileSource(data_folder("audio_fixtures/demo") / "session.flac")
    conductor.start(0.0)
    waits, speech, spent = [], 0.0, 0.0
    whole = time.perf_counter()
    for block in track(source.blocks(), "listening", total=round(source.lasts * 20)):
        taken = time.perf_counter()
        heard = ears.take(block)
        taken = time.perf_counter() - taken
        spent += taken
        conductor.clock(heard.now)
        for hearing in heard.hearings:
            speech += hearing.ended - hearing.started
            waits.append(heard.now - hearing.ended + taken)
            if conductor.state.live:
                conductor.hear(hearing, heard.now)
    whole = time.perf_counter() - whole
    waits.sort()
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    recogniser.close()
    mouth.close()
    return {
        "recogniser loads in": f"{loaded:.2f} s",
        "recording run through": f"{source.lasts:.0f} s of sound in {whole:.1f} s",
        "ears, real-time factor over everything": f"{spent / source.lasts:.3f}",
        "ears, real-time factor over speech": f"{spent / speech:.2f}",
        "end of speech to effect, p50 / p95": (
            f"{1000 * _at(waits, 0.5):.0f} / {1000 * _at(waits, 0.95):.0f} ms"
        ),
        "memory of the whole process, peak": f"{memory:.0f} MB",
    }, list(journal.events(session))


def machine_speed(plan: Plan, events: list[Event]) -> dict[str, str]:
    """Fold the session's own events again and again."""
    machine = SessionMachine(plan)
    begun, count = time.perf_counter(), 0
    while time.perf_counter() - begun < 2.0:
        state = machine.first()
        for event in events:
            state, _ = machine.step(state, event)
        count += len(events)
    return {"machine": f"{count / (time.perf_counter() - begun):,.0f} events a second"}


def journal_speed(plan: Plan) -> dict[str, str]:
    """Time an event onto the disk."""
    spent = []
    with tempfile.TemporaryDirectory() as folder:
        journal = SqliteJournal(Path(folder) / "journal.sqlite3")
        session = journal.open_session(plan, OPENED)
        for number in range(300):
            begun = time.perf_counter()
            journal.append(session, number, HearingRefused(float(number), "figures"))
            spent.append(time.perf_counter() - begun)
        journal.close()
    spent.sort()
    median, slow = (1000 * _at(spent, share) for share in (0.5, 0.99))
    return {"event on disk, p50 / p99": f"{median:.1f} / {slow:.1f} ms"}


def _at(ordered: list[float], share: float) -> float:
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))]


if __name__ == "__main__":
    main()
