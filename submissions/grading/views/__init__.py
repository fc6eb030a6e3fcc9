"""The desk's views, a file for each part of it."""
