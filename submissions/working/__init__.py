"""The student's pages: what is due, my part, turn in, what came back."""
