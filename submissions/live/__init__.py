"""A check-in on the day: who is called, what is marked while it is played, who is helped."""
