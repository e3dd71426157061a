"""Classes: settings, rosters, joining and the board."""
