"""How features of faces are drawn: each line once, and with its weight.

`contours.features` finds them. `face_lines` draws eyes, brows, mouths and noses, `nose_lines` what
else of a nose is drawn, `jaw_lines` and `hair_lines` what is missing of a face's bounds, and
`rim_lines` leaves out what runs beside these, `jaw_wobble` what wavers along a jaw.
"""
