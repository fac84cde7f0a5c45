"""Sidecue: a hands-free, offline procedure assistant for chairside restorative dentistry.

It reminds and records. It never decides treatment or a dose: local rules, the makers'
instructions for use and the licensed clinician win.
"""

__version__ = "0.1.0"
