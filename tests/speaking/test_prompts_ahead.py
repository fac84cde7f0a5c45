"""Prompts are rendered before they are needed, and never in the way of what is needed now."""

import threading
import time

import numpy as np
import pytest

from sidecue.cli.setting import DEFAULT_PRACTICE, setting
from sidecue.conductor.preparing import likely_prompts
from sidecue.session.effects import Chime, ChimeKind, Say, Silence
from sidecue.session.machine import SessionMachine
from sidecue.speaking.cache import CachedVoice
from sidecue.speaking.mouth import Mouth
from sidecue.speaking.mute import MuteLoudspeaker
from sidecue.speaking.port import Sound, VoiceError

CASES = ("composite-46-mo", "amalgam-14-do", "sealant-36-o")


class SlowVoice:
    """Takes its time for each prompt, one after another, and counts."""

    signature = "slow 1"

    def __init__(self):
        self.asked = []
        self._lock = threading.Lock()

    def render(self, text):
        with self._lock:
            time.sleep(0.01)
            self.asked.append(text)
            if "unspeakable" in text:
                raise VoiceError("cannot say it; write it as words")
            return Sound(np.full(500, 1000, np.int16), 22_050, text)

    def close(self):
        pass


def wait_until(condition):
    end = time.monotonic() + 20
    while not condition():
        assert time.monotonic() < end
        time.sleep(0.005)


@pytest.mark.parametrize("folder", [True, False])
def test_prepared_prompts_are_kept_in_order_and_rendered_once(folder, tmp_path):
    inner = SlowVoice()
    voice = CachedVoice(inner, tmp_path if folder else None)
    texts = ["Rinse.", "unspeakable", "Dry.", "Rinse.", "Wedge."]
    voice.prepare(texts)
    wait_until(lambda: "Wedge." in inner.asked)
    wait_until(lambda: not any(each.name == "prompts" for each in threading.enumerate()))
    assert inner.asked == ["Rinse.", "unspeakable", "Dry.", "Wedge."]
    for text in ("Rinse.", "Dry.", "Wedge."):
        voice.render(text)
    assert len(inner.asked) == 4
    with pytest.raises(VoiceError):  # told when it is needed
        voice.render("unspeakable")


def test_what_is_needed_now_does_not_wait_for_what_may_be_needed_later():
    inner = SlowVoice()
    voice = CachedVoice(inner)
    voice.prepare(f"Later {number}." for number in range(10_000))
    wait_until(lambda: inner.asked)
    voice.render("Stop.")
    assert len(inner.asked) < 100
    voice.close()


def test_closing_ends_the_preparing():
    inner = SlowVoice()
    voice = CachedVoice(inner)
    voice.prepare(f"Later {number}." for number in range(10_000))
    wait_until(lambda: inner.asked)
    voice.close()
    wait_until(lambda: not any(each.name == "prompts" for each in threading.enumerate()))
    assert len(inner.asked) < 1000


def test_without_a_folder_the_memory_is_not_filled_over(monkeypatch):
    monkeypatch.setattr("sidecue.speaking.cache._MEMORY_BYTES", 20_000)
    inner = SlowVoice()
    voice = CachedVoice(inner)
    texts = [f"Prompt {number}." for number in range(60)]
    voice.prepare(texts)
    wait_until(lambda: not any(each.name == "prompts" for each in threading.enumerate()))
    rendered = len(inner.asked)
    assert rendered < 20
    assert [voice.render(text) for text in texts[:rendered]]
    assert len(inner.asked) == rendered, "the first ones were pushed out by the last"


def test_the_first_words_do_not_wait_for_the_later_ones():
    """The rest is rendered while the first is being heard."""
    order = []

    class Noting(SlowVoice):
        def render(self, text):
            order.append(f"render {text}")
            return super().render(text)

    class Speaker(MuteLoudspeaker):
        def play(self, sound, now):
            order.append(f"play {sound.text or 'chime'}")
            return super().play(sound, now)

        def silence(self, now):
            order.append("silence")
            return super().silence(now)

    mouth = Mouth(Noting(), Speaker())
    mouth.carry_out([Say("Rinse."), Say("Dry.")], 0.0)
    assert order == ["render Rinse.", "play Rinse.", "render Dry.", "play Dry."]
    order.clear()
    mouth.carry_out([Chime(ChimeKind.HEARD), Say("Wedge.")], 0.01)
    assert order == ["silence", "play chime", "render Wedge.", "play Wedge."]
    order.clear()
    mouth.carry_out([Silence(), Say("Paused.")], 0.02)
    assert order == ["silence", "render Paused.", "play Paused."]


@pytest.mark.parametrize("case", CASES)
def test_every_prompt_of_a_straight_visit_and_of_its_dangers_is_foreseen(case):
    plan = setting(case, DEFAULT_PRACTICE).plan
    texts = list(likely_prompts(SessionMachine(plan)))
    assert len(texts) == len(set(texts))
    assert {step.say for step in plan.steps} <= set(texts)
    assert {line for emergency in plan.emergencies for line in emergency.says} <= set(texts)
    used = {caution for step in plan.steps for caution in step.cautions}
    assert {plan.caution_by_id[each].say for each in used} <= set(texts)
    overdue = {timer.overdue_say for step in plan.steps for timer in step.timers} - {""}
    assert overdue <= set(texts)
    steps = [texts.index(step.say) for step in plan.steps]
    assert steps[0] == 0, "the first is rendered first"
    assert steps[1] < 20
