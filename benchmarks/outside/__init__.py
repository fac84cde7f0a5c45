"""Which checks compare a clinical value with something outside, and with what."""
