"""Pages of exercises: writing them, their parts, fingerings and ranges."""
