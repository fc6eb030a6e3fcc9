"""Every change to a band and its people: one function, one transaction."""
