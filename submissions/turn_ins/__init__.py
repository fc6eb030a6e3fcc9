"""Turn-ins: where each student stands, who was asked, and every move between states."""
