"""What is printed of a reference: enlarged pieces, outlines, flat tones, previews.

`enlarge` resamples any part of the master; `outline` and `tones` build on it and find lines to
trace and flat tones for the whole picture; `preview` shows each style on a screen.
"""
