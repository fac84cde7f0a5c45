"""The silent loudspeaker keeps the timing of one that sounds."""

import pytest
from loudspeaker_contract import HandClock, LoudspeakerContract

from sidecue.speaking.mute import MuteLoudspeaker


class TestMuteLoudspeaker(LoudspeakerContract):
    @pytest.fixture
    def clock(self):
        return HandClock()

    @pytest.fixture
    def speaker(self):
        return MuteLoudspeaker()
