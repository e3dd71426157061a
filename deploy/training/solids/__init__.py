"""Scenes of solid things, lit and seen as they would be: what paint alone does not teach.

`subjects` says what there is to see, put together as `solids` of `surfaces`. `view` follows `rays`
to them; `paints`, `light` and `folds` say what is seen there, and `rendered` puts it on a canvas.
"""
