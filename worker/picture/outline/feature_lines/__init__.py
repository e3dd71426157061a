"""How features of faces are drawn: each line once, and with its weight.

`contours.features` finds them. `eye_lines` draws lids and irises, `face_lines` brows and mouths
with them, and `nose_lines` says where the line below a nose is missing.
"""
