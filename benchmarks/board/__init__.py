"""Benchmarks of the board."""
