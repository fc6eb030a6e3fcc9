"""What people type into the pages of the band, checked."""
