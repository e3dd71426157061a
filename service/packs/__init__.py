"""Packs: planning, previews, asking for one, following it, fetching its files."""
