"""The listening bench: how often the right cue, the wrong cue or nothing is heard."""
