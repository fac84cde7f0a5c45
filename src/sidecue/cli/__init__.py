"""Commands, one module each; no logic."""
