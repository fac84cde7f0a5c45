"""What every audio source promises; each source's test subclasses it."""

from __future__ import annotations

import numpy as np

from sidecue.hearing.port import RATE, AudioSource


class SourceContract:
    """Subclasses give `source`: something that yields at least half a second of sound."""

    def source(self) -> AudioSource:
        raise NotImplementedError

    def test_blocks_are_mono_16_bit_and_in_order(self) -> None:
        source = self.source()
        total, before = 0, float("-inf")
        try:
            for block in source.blocks():
                assert block.samples.dtype == np.int16
                assert block.samples.ndim == 1
                assert block.at >= before
                before = block.at
                total += len(block.samples)
                if total >= RATE // 2:
                    break
        finally:
            source.close()
        assert total >= RATE // 2

    def test_closing_twice_is_safe(self) -> None:
        source = self.source()
        source.close()
        source.close()
        assert list(source.blocks()) == []
