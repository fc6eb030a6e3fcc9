"""One function for each address; who may open it is its first line."""
