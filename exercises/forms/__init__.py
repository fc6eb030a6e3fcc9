"""Forms for exercises, files, patterns, ranges and fingerings."""
