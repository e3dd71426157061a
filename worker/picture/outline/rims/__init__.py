"""Rims come out as ellipses: `ellipses` fits them, and `drawing` lays lines on them."""
