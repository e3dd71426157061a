"""Eyes with their irises, and brows."""
