"""How much may run at once, and how often somebody may ask or try."""
