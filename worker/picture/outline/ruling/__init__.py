"""Straight things come out straight.

`fitting` says which stretches of lines are straight, `built` where much is, and `directions` which
way ruled lines run around a place. `segments` are straight edges of the picture, of which
`collinear` joins pieces, and `following` lays lines on them. `bridging` leaves hooks out, and
`meeting` says where ruled lines meet. `straightening` calls these.
"""
