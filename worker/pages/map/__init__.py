"""Page 1, the assembly map: how the pieces join."""
