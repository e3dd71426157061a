"""Straight things come out straight.

`fitting` says which stretches of lines are straight, `built` where much is, and `directions` which
way ruled lines run around a place. `segments` are straight edges of the picture, of which
`collinear` joins pieces, and `following` lays lines on them. `bridging` leaves hooks out, and
`meeting` says where ruled lines meet. `straightening` calls these. When lines have given way to
frames, `continuing` leads outlines of masses over gaps, `belonging` leaves out what belongs to
nothing and `fraying` what waves beside an edge, and `reaching` draws lines on to what is ahead; all
by what is near (`nearness`).
"""
