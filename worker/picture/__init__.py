"""What is printed of a reference: enlarged pieces, outlines, flat tones, previews."""
