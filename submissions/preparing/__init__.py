"""The preparation engine: is this file a recording, and what do we keep of it to play?

It checks a file to its end, writes a copy that a browser can play and seek without what the phone
wrote into it (title, place, encoder), draws its loudness and finds the recorder's marker. It knows
neither Django nor the database and runs in a process of its own:
`python -m submissions.preparing TAKE FOLDER`.
"""
