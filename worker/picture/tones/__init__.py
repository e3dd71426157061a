"""The picture in three to seven flat tones, to paint from.

Data flows through the modules in this order: `otsu` finds the thresholds between tones and
`printed_greys` the grey that each is printed in; `edge_preserving` smooths away grain and
`regions` merges patches too small to paint; `posterisation` calls them for the whole picture.
`distance_fields` then describes the borders between tones, and `piece` draws one sheet's part.
"""

from __future__ import annotations

from worker.picture.tones.piece import reduced_values, values_part, values_piece
from worker.picture.tones.posterisation import Posterised, posterise

__all__ = ["Posterised", "posterise", "reduced_values", "values_part", "values_piece"]
