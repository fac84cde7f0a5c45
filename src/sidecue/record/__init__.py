"""Memory: the event journal and what is projected from it."""
