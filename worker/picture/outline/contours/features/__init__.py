"""Features of faces, sought as what they are: eyes, brows, noses and mouths.

What is linked in a face is lashes, hairs and gloss. So each feature is sought whole, in a frame
that its face gives, and all lines within it are its own. Nothing of it is stored, and nothing in
it tells one person from another.
"""
