"""Which of the published landmarks are looked for, by the numbers that they are published under.

The numbers and the lists are those of the published model and its graphs (Apache License 2.0; see
`weights/NOTICE-landmarks.txt`). Right and left are the person's own. `MIRRORED` gives the number
of the same place on the other side.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

COUNT = 478

#: Of the lips' network, in the order of what it says: outer lower and upper, inner lower and
#: upper, then the same halfway out and halfway in.
LIPS = (
    *(61, 146, 91, 181, 84, 17, 314, 405, 321, 375, 291),
    *(185, 40, 39, 37, 0, 267, 269, 270, 409),
    *(78, 95, 88, 178, 87, 14, 317, 402, 318, 324, 308),
    *(191, 80, 81, 82, 13, 312, 311, 310, 415),
    *(76, 77, 90, 180, 85, 16, 315, 404, 320, 307, 306),
    *(184, 74, 73, 72, 11, 302, 303, 304, 408),
    *(62, 96, 89, 179, 86, 15, 316, 403, 319, 325, 292),
    *(183, 42, 41, 38, 12, 268, 271, 272, 407),
)
#: Of the right eye's network: lower and upper lid, two rings around, the brow's lower side, and
#: the outermost ring with the brow's upper side.
RIGHT_EYE = (
    *(33, 7, 163, 144, 145, 153, 154, 155, 133),
    *(246, 161, 160, 159, 158, 157, 173),
    *(130, 25, 110, 24, 23, 22, 26, 112, 243),
    *(247, 30, 29, 27, 28, 56, 190),
    *(226, 31, 228, 229, 230, 231, 232, 233, 244),
    *(113, 225, 224, 223, 222, 221, 189),
    *(35, 124, 46, 53, 52, 65),
    *(143, 111, 117, 118, 119, 120, 121, 128, 245),
    *(156, 70, 63, 105, 66, 107, 55, 193),
)
LEFT_EYE = (
    *(263, 249, 390, 373, 374, 380, 381, 382, 362),
    *(466, 388, 387, 386, 385, 384, 398),
    *(359, 255, 339, 254, 253, 252, 256, 341, 463),
    *(467, 260, 259, 257, 258, 286, 414),
    *(446, 261, 448, 449, 450, 451, 452, 453, 464),
    *(342, 445, 444, 443, 442, 441, 413),
    *(265, 353, 276, 283, 282, 295),
    *(372, 340, 346, 347, 348, 349, 350, 357, 465),
    *(383, 300, 293, 334, 296, 336, 285, 417),
)
#: The middle, then places on the rim: towards the nose or away, above, and so on round.
RIGHT_IRIS = (468, 469, 470, 471, 472)
LEFT_IRIS = (473, 474, 475, 476, 477)
#: The face's border from the middle of the forehead along the left side to the chin, and back.
OVAL = (
    *(10, 338, 297, 332, 284, 251, 389, 356, 454, 323, 361, 288, 397, 365, 379, 378, 400, 377),
    *(152, 148, 176, 149, 150, 136, 172, 58, 132, 93, 234, 127, 162, 21, 54, 103, 67, 109),
)
_NOSE_MIDDLE = (168, 6, 197, 195, 5, 4, 1, 19, 94, 2)
#: Wing, nostril and what is between them, on the right and on the left.
_NOSE_SIDES = (
    *((198, 420), (209, 429), (49, 279), (102, 331), (48, 278), (64, 294), (98, 327), (97, 326)),
    *((129, 358), (115, 344), (131, 360), (45, 275), (44, 274), (125, 354), (141, 370)),
    *((20, 250), (238, 458), (239, 459), (79, 309), (166, 392), (59, 289), (75, 305), (60, 290)),
    *((240, 460), (235, 455), (99, 328), (242, 462)),
)
#: Where cheeks are outermost in a turned face.
_CHEEKS = (
    *((50, 280), (101, 330), (205, 425), (187, 411), (123, 352), (147, 376), (116, 345)),
    *((213, 433), (192, 416), (207, 427), (216, 436), (206, 426), (214, 434), (138, 367)),
)

#: What is looked for over the whole face first: borders, which say where lips and eyes are looked
#: at more closely, and what is not looked at again.
COARSE = tuple(
    sorted(
        {
            *LIPS[:20],
            *(place for eye in (RIGHT_EYE, LEFT_EYE) for place in (eye[0], eye[8], *eye[48:])),
            *(eye[place] for eye in (RIGHT_EYE, LEFT_EYE) for place in (16, 32, 40)),
            *OVAL,
            *_NOSE_MIDDLE,
            *(one for pair in (*_NOSE_SIDES, *_CHEEKS) for one in pair),
        }
    )
)


def _mirrored() -> npt.NDArray[np.intp]:
    numbers = np.arange(COUNT)
    around = zip(OVAL[1:], OVAL[:0:-1], strict=True)
    lips = (
        pair
        for start in range(0, len(LIPS), 20)
        for row in (LIPS[start : start + 11], LIPS[start + 11 : start + 20])
        for pair in zip(row, row[::-1], strict=True)
    )
    irises = zip(RIGHT_IRIS, (LEFT_IRIS[place] for place in (0, 3, 2, 1, 4)), strict=True)
    eyes = zip(RIGHT_EYE, LEFT_EYE, strict=True)
    for one, other in (*around, *lips, *irises, *eyes, *_NOSE_SIDES, *_CHEEKS):
        numbers[one], numbers[other] = other, one
    return numbers


MIRRORED = _mirrored()
