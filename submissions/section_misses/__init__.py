"""What most players of a section missed, with a likely cause."""
