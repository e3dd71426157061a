"""Features of faces, sought as what they are: eyes, brows, noses and mouths.

What is linked in a face is lashes, hairs and gloss. So each feature is sought whole, beside
landmarks of its face, and all lines within it are its own. Nothing of either is stored.
"""
