"""Eyes of animals, and whatever else is a dark round form with a smaller one in it.

No network knows animals' faces here: `discs` finds places that dark edges run round, `rings` the
closed course of each, `inner_rings` the iris, the pupil and the light in it, `round_forms` which of
them are no chance of a texture, and `forms` what of all other lines they replace.
"""
