"""How the tables came to be, step by step, and what brings a ledger up to the newest step.

Alembic runs `env` and reads `versions`. Steps are never edited.
"""
