"""The steps before a take."""
