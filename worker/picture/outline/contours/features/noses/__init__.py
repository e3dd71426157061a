"""Noses, by their line and their nostrils."""
