"""Rims are ellipses: `ellipses` fits, `finding` finds them, `drawing` lays lines on them."""
