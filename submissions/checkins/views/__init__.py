"""Pages of check-ins."""
