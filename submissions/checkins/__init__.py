"""Check-in slots: making, booking, meeting."""
