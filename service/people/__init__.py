"""People: the first tutor, signing in, and keys."""
