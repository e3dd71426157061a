"""Landmarks of a face by what they lie on.

Places of a mesh are numbered to 478, of which the network gives those that are used. Which of them
lie on a lid or a lip is its makers' numbering. Curves here go from the viewer's left to the right
as one sees an upright face, so that "above" is to the same side of each.
"""

from __future__ import annotations

#: Lids, brows' edges, irises: of the eye at the viewer's left, then right.
UPPER_LIDS = (
    (33, 246, 161, 160, 159, 158, 157, 173, 133),
    (362, 398, 384, 385, 386, 387, 388, 466, 263),
)
LOWER_LIDS = (
    (33, 7, 163, 144, 145, 153, 154, 155, 133),
    (362, 382, 381, 380, 374, 373, 390, 249, 263),
)
UPPER_BROWS = ((70, 63, 105, 66, 107), (336, 296, 334, 293, 300))
LOWER_BROWS = ((46, 53, 52, 65, 55), (285, 295, 282, 283, 276))
IRISES = ((468, 469, 470, 471, 472), (473, 474, 475, 476, 477))
#: Lips.
OUTER_UPPER = (61, 185, 40, 39, 37, 0, 267, 269, 270, 409, 291)
OUTER_LOWER = (61, 146, 91, 181, 84, 17, 314, 405, 321, 375, 291)
INNER_UPPER = (78, 191, 80, 81, 82, 13, 312, 311, 310, 415, 308)
INNER_LOWER = (78, 95, 88, 178, 87, 14, 317, 402, 318, 324, 308)
#: Around a nose from wing to wing, along below it; so much of its length either wing has.
NOSE = (209, 49, 48, 64, 98, 97, 2, 326, 327, 294, 278, 279, 429)
WING_PLACES = 0.3
#: Around each nostril.
NOSTRILS = (
    (235, 240, 75, 60, 99, 97, 238, 239, 79, 166, 59, 64, 98, 20),
    (455, 460, 305, 290, 328, 326, 458, 459, 309, 392, 289, 294, 327, 250),
)
#: Where it is widest.
WINGS = (48, 278)
#: Down a nose to above its tip.
BRIDGE = (168, 6, 197, 195, 5)
#: From below one ear to below the other by the chin.
JAW = (
    *(132, 58, 172, 136, 150, 149, 176, 148, 152),
    *(377, 400, 378, 379, 365, 397, 288, 361),
)
#: Beside eyes, from the ears up to as high as brows.
TEMPLES = (234, 127, 162, 21, 251, 389, 356, 454)
#: Ends of a face: how large it is follows from them.
TOP, CHIN, LEFT, RIGHT = 10, 152, 234, 454
#: The tip of a nose.
TIP = 4
#: From temple to temple along the top of a face.
FOREHEAD = (162, 21, 54, 103, 67, 109, 10, 338, 297, 332, 284, 251, 389)
