"""The sound server of the live tests, one for the module that asks."""

from collections.abc import Iterator

import pytest
from benchmarks.edges.sound_room import SoundRoom, missing


@pytest.fixture(scope="module")
def room(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SoundRoom]:
    if missing():
        pytest.skip(f"missing: {missing()}")
    with SoundRoom(tmp_path_factory.mktemp("sound")) as made:
        yield made
