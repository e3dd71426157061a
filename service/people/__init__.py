"""People: the first tutor, signing in, keys and course sites."""
