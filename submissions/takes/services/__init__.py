"""What changes takes: announced, received, prepared, heard, turned in, deleted."""
