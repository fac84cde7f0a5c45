"""A prompt begins with the verb; an imperative is not refused because nobody knows it here."""

from __future__ import annotations

from pathlib import Path

import pytest
from small_library import FILES, changed, library
from test_practice_numbers import EXAMPLE, own

from sidecue.procedure.beginnings import beginning_fault
from sidecue.procedure.source import LoadError

BONDING = "parts/bonding.yaml"


@pytest.mark.parametrize(
    ("prompt", "word"),
    [
        ("The tooth is fine.", "The"), ("A band is seated.", "A"), ("It is dry now.", "It"),
        ("Your light goes on.", "Your"), ("Tooth four six is etched.", "Tooth"),
        ("Adhesive goes on now.", "Adhesive"), ("Is it dry?", "Is"), ("Now the etch.", "the"),
        ("{tooth} gets etched.", "{tooth}"), ("Placing the band.", "Placing"),
        ("Gently, slowly, your brush.", "your"), ("No bubbles inside.", "No"),
    ],
)  # fmt: skip
def test_what_is_no_verb_is_refused(prompt: str, word: str) -> None:
    assert beginning_fault(prompt) == f"begins with {word!r}, which is no verb"


@pytest.mark.parametrize(
    "prompt",
    [
        "Etch enamel.", "Gently air it thin.", "First record the shade.", "Bring the ring.",
        "Have the patient close.", "Band the tooth.", "Syringe the molar.", "Frobnicate it.",
        "Then, slowly, inject.", "Time the rinse.", "Don't touch it.", "Suction the corner.",
    ],
)  # fmt: skip
def test_a_verb_passes_known_or_not(prompt: str) -> None:
    assert beginning_fault(prompt) is None


@pytest.mark.parametrize(
    ("passage", "damage"),
    [("say: Rinse as long as you etched.", "say: The tooth is fine."),
     ("say: Etch again.", "say: It is wet.")],
)  # fmt: skip
def test_a_step_and_a_happening_are_told_with_their_line(
    tmp_path: Path, passage: str, damage: str
) -> None:
    with pytest.raises(LoadError) as caught:
        library(tmp_path, changed(BONDING, passage, damage))
    (fault,) = caught.value.faults
    line = FILES[BONDING][: FILES[BONDING].index(passage)].count("\n") + 1
    assert (Path(fault.file).name, fault.line) == ("bonding.yaml", line)
    assert fault.what.endswith("which is no verb")
    assert fault.mend == "begin with what to do"


def test_how_a_clinician_words_a_prompt_is_left_to_the_clinician(tmp_path: Path) -> None:
    assert own(tmp_path, EXAMPLE + "wording: {final-count: Acid gel counted.}\n")
