"""Pages for paper: from HTML of our own to a PDF."""
