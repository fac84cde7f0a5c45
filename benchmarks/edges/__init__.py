"""The edges on a sound server of their own: how late, how deaf, how patient, how heavy."""
