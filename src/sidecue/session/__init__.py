"""The machine: (state, event) -> (state, effects). Knows no sound; time comes on events."""
