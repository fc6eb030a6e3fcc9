"""Pages and addresses of takes: announcing, sending, turning in, playing."""
