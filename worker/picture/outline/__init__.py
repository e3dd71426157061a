"""From the master to lines that a draughtsman would trace.

Data flows in this order: `points` finds points of lines in the picture, and `contours` says what
the reading makes of them, `prominence` where the picture's main thing lies. `judging` weighs all
of it, `selection` decides which lines are drawn, without those that `tidying` leaves out and
joined by `line_ends`, and `line_weights` how heavy; `shadow_edges` adds edges of shadows if they
are wanted. `ruling`, `fairing` (as far as `certainty` says that it is doubtful where they
run), `polylines` and `curve_fitting` make curves of them. `pipeline` calls them all.
"""

from __future__ import annotations

from worker.picture.outline.pipeline import find_strokes

__all__ = ["find_strokes"]
