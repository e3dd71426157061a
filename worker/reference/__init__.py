"""Intake: from a photo to a reference, with its master, detail map and preview."""
