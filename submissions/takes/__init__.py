"""Recordings: declaring, sending, preparing, playing."""
