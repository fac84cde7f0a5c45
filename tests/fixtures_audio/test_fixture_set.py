"""The set of fixtures itself: complete, even, larger where it must refuse, small on disk."""

from collections import Counter

import manifest
import numpy as np
import plans
import pytest
import soundfile
import yaml
from fixture_session import ENTRIES, FIXTURES, ODD, SPOKEN, hear
from situations import VISITS, Situation, visit_plan

from sidecue.conductor.assembly import recogniser_of
from sidecue.hearing.files import read_sound
from sidecue.hearing.port import AudioError

ACCEPTED = [entry for entry in SPOKEN if "cue" in entry["must"]]
REFUSED = [entry for entry in SPOKEN if "refused" in entry["must"]]
MOST_BYTES = 25_000_000


def test_every_file_is_in_the_manifest_and_every_entry_has_its_file():
    listed = [entry["file"] for entry in (*SPOKEN, *ODD)]
    folders = ("accept", "reject", "degenerate")
    there = {
        str(path.relative_to(FIXTURES))
        for folder in folders
        for path in (FIXTURES / folder).rglob("*")
        if path.is_file()
    }
    assert Counter(listed).most_common(1)[0][1] == 1
    assert set(listed) == there


def test_the_manifest_is_yaml_and_says_what_its_reader_reads():
    lines = manifest.PATH.read_text("utf-8").splitlines()
    some = "\n".join(lines[: 4 + 40])
    assert yaml.safe_load(some) == ENTRIES[:40]


def test_every_phrase_of_every_cue_of_the_visits_is_spoken_by_two_voices():
    voices = {}
    for entry in ACCEPTED:
        address = visit_plan(entry["at"]["visit"]).address
        phrase = entry["phrase"].removeprefix(address).strip()
        voices.setdefault(phrase, set()).add(entry["voice"])
    wanted = {
        phrase
        for visit in VISITS
        for cue in plans.every_cue(visit_plan(visit))
        for phrase in cue.phrases
    } - set(plans.never_offered())
    few = sorted(phrase for phrase in wanted if len(voices.get(phrase, ())) < 2)
    assert not few, f"make them: python audio_fixtures/make_phrases.py ({', '.join(few)})"


def test_at_least_eight_voices_of_both_synthesisers_are_used_evenly():
    for folder in ("accept", "reject/near_miss", "reject/unrelated"):
        used = Counter(e["voice"] for e in SPOKEN if e["file"].startswith(folder + "/"))
        assert len(used) >= 8
        assert {voice.split()[0] for voice in used} == {"flite", "espeak-ng"}
        assert max(used.values()) <= 1.25 * min(used.values()) + 1


def test_more_is_to_be_refused_than_accepted():
    assert len(REFUSED) > len(ACCEPTED)
    kinds = Counter(entry["file"].split("/")[1] for entry in REFUSED)
    assert set(kinds) == {"unrelated", "near_miss", "noise", "own_voice"}
    assert min(kinds.values()) >= 50


def test_the_recordings_are_small():
    """Fixtures and demo together."""
    sounds = [path for path in FIXTURES.rglob("*") if path.suffix in (".flac", ".wav")]
    assert len(sounds) > len(SPOKEN)
    assert sum(path.stat().st_size for path in sounds) <= MOST_BYTES


@pytest.mark.parametrize("entry", SPOKEN[:: len(SPOKEN) // 40], ids=lambda entry: entry["file"])
def test_a_fixture_is_mono_16_khz_over_a_noise_floor_of_70_dbfs_below_full_scale(entry):
    samples, rate = soundfile.read(FIXTURES / entry["file"])
    assert (rate, samples.ndim) == (16_000, 1)
    floor = 20 * np.log10(np.sqrt(np.mean(samples[: round(0.07 * rate)] ** 2)))
    assert floor == pytest.approx(-70, abs=1.5)
    assert np.abs(samples).max() < 0.999


def test_the_known_failures_are_few_and_are_files_of_the_set():
    known = yaml.safe_load((FIXTURES.parent / KNOWN).read_text("utf-8")) or {}
    assert set(known) <= {entry["file"] for entry in SPOKEN}
    assert all(known.values()), "each needs its reason"
    assert len(known) <= 0.05 * len(SPOKEN)
    # talk, noise and our own voice never act
    assert all(file.startswith(("accept/", "reject/near_miss/")) for file in known)


KNOWN = "tests/fixtures_audio/known_failures.yaml"


@pytest.fixture(scope="module")
def recogniser():
    made = recogniser_of("auto", None)
    yield made
    made.close()


@pytest.mark.parametrize("entry", ODD, ids=lambda entry: entry["what"])
def test_a_file_that_is_no_proper_recording_is_told_or_heard_all_the_same(entry, recogniser):
    path, must = FIXTURES / entry["file"], entry["must"]
    if "told" in must:
        with pytest.raises(AudioError, match=must["told"]) as told:
            read_sound(path)
        assert path.name in str(told.value)
        assert "\n" not in str(told.value)
        return
    at = Situation(VISITS[0], visit_plan(VISITS[0]).steps[3].id)
    outcome = hear(read_sound(path), at, recogniser)
    assert outcome.cues == ([must["cue"]] if "cue" in must else [])
