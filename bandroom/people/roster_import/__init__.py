"""Bring a class list in from a spreadsheet.

reading.py   bytes or pasted text -> a table of cells
columns.py   what each column holds, guessed from its head
plan.py      what each row would do to the band: new, changed, same, or a problem and why; writes nothing
draft.py     the table and the director's choices, signed, between one page and the next
apply.py     does what the plan said, all of it or nothing
"""
