"""The agreed tooth, told in prompts of at most eight words."""

from __future__ import annotations

from dataclasses import replace

import pytest
from builder import small_plan, visit


@pytest.mark.parametrize(
    ("tooth", "said"),
    [
        (
            "four six, patient's lower right first molar",
            ["Tooth four six, patient's lower right first molar."],
        ),
        (
            "seven five, patient's lower left primary second molar",
            ["Tooth seven five.", "Patient's lower left primary second molar."],
        ),
    ],
)
def test_a_tooth_is_told_in_one_prompt_or_in_two(tooth: str, said: list[str]) -> None:
    assert visit(replace(small_plan(), tooth_spoken=tooth)).cue("which-tooth").said == said
