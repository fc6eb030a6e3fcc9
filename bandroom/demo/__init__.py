"""The demo school: everything in it is invented, and its takes are synthesised by the program itself."""
