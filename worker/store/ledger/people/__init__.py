"""Rows of people, classes, rosters and keys."""
