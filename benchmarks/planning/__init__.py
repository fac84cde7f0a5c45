"""Every valid combination of case facts, planned: `python -m benchmarks.planning`."""
