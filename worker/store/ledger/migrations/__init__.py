"""Alembic's folder: how the tables came to be, step by step. Steps are never edited."""
