"""What changes exercises and the decisions about their parts."""
