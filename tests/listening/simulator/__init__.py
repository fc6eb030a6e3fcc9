"""Simulated beginners: seeded takes with known faults, for tests and measurements.

Sound comes from Debian's General MIDI sound font through fluidsynth. Everything follows from the seed and
the kind of take, so a figure can be made again.
"""
