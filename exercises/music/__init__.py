"""The music engine: from one concert line to every instrument's part, with reasons, fingerings and pictures.

No Django here. `score`, `part`, `reading` and `fingerings` need the standard library alone; music21 is
imported by the readers of uploaded files, verovio by `engraving`.
"""

#: Part of every cache key. Raise it whenever the same input gives another part, reading or picture.
ENGINE_VERSION = "4"
