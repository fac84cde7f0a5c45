"""Training of the phone head: from frames of the speech encoder to phones."""
