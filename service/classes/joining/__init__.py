"""How a device comes to a student's key: with the code on the board, or with a link."""
