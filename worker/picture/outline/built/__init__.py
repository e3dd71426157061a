"""Where all is built: outlines of masses, and what belongs to none.

When lines have given way to frames, `continuing` leads outlines of masses over gaps, `belonging`
leaves out what belongs to nothing and `fraying` what waves beside an edge, and `reaching` draws
lines on to what is ahead.
"""
