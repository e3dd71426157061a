"""Batches: packs for a whole class, planned, ordered, followed and downloaded together."""
