"""What every test shares: properties are judged by what they find, never by the clock."""

from hypothesis import settings

settings.register_profile("sidecue", deadline=None)
settings.load_profile("sidecue")
