"""Hypothesis without a clock: the machine may be busy, and a law holds however long it takes to check."""

from hypothesis import settings

settings.register_profile("music", deadline=None)
settings.load_profile("music")
