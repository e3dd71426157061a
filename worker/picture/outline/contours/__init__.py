"""What the reading makes of those points: which of them a person would draw, and what is missing.

`placed_reading` lays the reading under the picture; `contour_ridges` finds its lines,
`layered_ridges` joins those of its parts and `ridge_places` steps along them; `edge_following` and
`contour_course` find which edges they are, and `contour_lines` writes them. `evidence` says what
the reading makes of each point. `features` are those of faces, and `feature_cover` is what they
replace.
"""
