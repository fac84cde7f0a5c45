"""What the proof catches, and how it grows."""
