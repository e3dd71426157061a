"""The picture in three to seven flat tones, to paint from.

In the order of the data: `otsu` parts the greys, `tones` chooses what they are printed in,
`smooth` takes out what no brush follows, `regions` what none can fill, `levels` calls them
for the whole picture; `fields` says how far its borders are, `piece` draws a sheet's part.
"""

from __future__ import annotations

from worker.picture.tones.find import Levels, find_levels
from worker.picture.tones.piece import values_in_small, values_part, values_piece

__all__ = ["Levels", "find_levels", "values_in_small", "values_part", "values_piece"]
