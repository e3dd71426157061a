"""Colours of any photo as sRGB, and sRGB as grey by luminance.

Data flows through the modules in this order: `sixteen_bit` scales deeper samples to eight bits,
`profile` applies colour profiles, `srgb` calls both and computes grey.
"""
