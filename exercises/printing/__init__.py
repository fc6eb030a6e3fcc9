"""Parts on paper."""
