"""The listening engine: what was heard of each written note in one take.

It says what it heard, how sure it is, and why it thinks so; it never gives a mark. It knows neither
Django nor the database: give it the bytes of a recording and the notes of the student's part.
"""

ENGINE_VERSION = "1.3"
"""Kept with every piece of evidence. Raise it whenever the same take could be heard differently."""
