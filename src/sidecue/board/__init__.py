"""The operatory screen."""
