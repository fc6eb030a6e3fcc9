"""The student's pages, and the sheets and checklists made for them."""
