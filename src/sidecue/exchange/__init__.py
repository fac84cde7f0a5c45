"""Open exchange: a plan as text in published formats. Pure; nothing is read or written here."""
