"""What a student changes before and after a take."""
