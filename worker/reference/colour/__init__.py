"""Colours of any photo as sRGB, and sRGB as the grey that a person drawing sees."""
