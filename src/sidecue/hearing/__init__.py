"""Ears: audio blocks in, judged utterances out."""
