"""Proof: every reachable state of every plan, walked with the machine that runs them."""
