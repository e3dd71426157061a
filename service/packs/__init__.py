"""Packs: plans, previews, orders, progress and downloads."""
