"""Classes: rosters, joining, what a tutor settles, and the board."""
