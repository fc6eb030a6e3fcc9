"""What lies over and under an engraved line."""
