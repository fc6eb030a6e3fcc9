"""The desk: marking and returning."""
