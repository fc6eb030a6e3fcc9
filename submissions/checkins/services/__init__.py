"""What changes check-ins."""
