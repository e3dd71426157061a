"""How features of faces are drawn: each line once, and with its weight.

`contours.features` finds them. `face_lines` draws eyes, brows, mouths and noses, `nose_lines` what
else of a nose is drawn, and `jaw_lines` what is missing of a jaw.
"""
