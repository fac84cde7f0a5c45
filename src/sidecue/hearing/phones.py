"""The phones of English as the recognisers' lexicon writes them (ARPAbet, without stress)."""

from __future__ import annotations

_VOWELS = ("AA", "AE", "AH", "AO", "AW", "AY", "EH", "ER", "EY", "IH", "IY", "OW", "OY", "UH", "UW")
_STOPS = ("B", "CH", "D", "G", "JH", "K", "P", "T")
_OTHERS = ("DH", "F", "HH", "L", "M", "N", "NG", "R", "S", "SH", "TH", "V", "W", "Y", "Z", "ZH")
PHONES = (*_VOWELS, *_STOPS, *_OTHERS)
