"""Sign-in cards on paper: eight to a page, with a QR code of the address."""
