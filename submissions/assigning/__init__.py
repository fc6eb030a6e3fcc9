"""Posting exercises to sections, rubrics, the week board."""
