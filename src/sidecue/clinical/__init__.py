"""Arithmetic and tables of the trade, with their sources. Knows no YAML and no state."""
