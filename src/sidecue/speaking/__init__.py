"""Mouth: prompts rendered to samples, played with a known end; chimes."""
