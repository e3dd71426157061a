"""Whoever asks: who they are, what they have, a copy of it, and its end."""
