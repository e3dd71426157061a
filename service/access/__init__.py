"""Who may ask: hosts, keys, roles, limits on guessing, and what a class allows."""
