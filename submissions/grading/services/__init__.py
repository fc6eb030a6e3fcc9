"""What the desk changes."""
