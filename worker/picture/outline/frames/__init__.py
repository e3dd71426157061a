"""Frames: windows, doors, panels and signs whose four sides the picture has are drawn as such."""
