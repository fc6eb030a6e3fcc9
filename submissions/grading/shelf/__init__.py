"""The shelf: the listener's evidence under the notes as they are written."""
