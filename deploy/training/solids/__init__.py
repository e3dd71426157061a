"""Scenes of solid things, lit and seen as they would be: what paint alone does not teach.

`arrangements` says what there is to see: things of `table`, `people` and `outdoors`, put together
as `solids` of `surfaces`. `view` follows `rays` to them; `paints`, `light` and `folds` say what is
seen there, `rendered` puts it on a canvas, and `faces` adds eyes.
"""
