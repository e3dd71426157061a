"""People: the first tutor, signing in, oneself, keys and course sites."""
