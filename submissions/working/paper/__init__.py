"""An assignment on paper, for a student without a screen."""
