"""How solids are laid out for `rays.cu`: slots of numbers, unit by unit."""

from __future__ import annotations

#: What a unit consists of; an object is one unit or several.
UNIT = ("box", "vessel", "ring", *("ball",) * 6, "limb", "limb")
#: Shapes by the numbers that they have there.
KINDS = ("box", "vessel", "ring", "ball", "limb")
UNITS = 5
SLOTS = UNITS * len(UNIT)
#: Where ground and wall come after the solids.
GROUND, WALL = SLOTS, SLOTS + 1
#: Numbers of a slot: middle, turn, size, shape, and how it joins what comes before.
MIDDLE, TURN, SIZE, SHAPE, MELT, SIGN, ROUGH = 0, 3, 12, 15, 18, 19, 20
NUMBERS = 21
#: Numbers of the surroundings: height of the ground, depth of the wall, folds of the ground (high,
#: across, down, phase; three times), and how fine what is rough is.
FLOOR, BACK, FOLDS, FINE = 0, 1, 2, 14
SURROUNDINGS = 15
#: What is as far is not there.
FAR = 1e3
