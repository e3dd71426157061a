"""The board: what a tutor sees of every student at once."""
