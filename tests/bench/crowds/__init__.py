"""The whole arrangement under many at once, and under mixed use for minutes."""
