"""The only place where threads, clocks and devices meet, around one session."""
