"""Course sites: their limits, their sessions for students, their names for people, their log."""
