"""Lessons for trainees, from the same plans."""
