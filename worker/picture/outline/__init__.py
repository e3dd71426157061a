"""From the master to lines that a draughtsman would trace.

Data flows through the modules in this order: `sampled_picture` samples the picture on a grid in
millimetres, `gaussian` smooths it, `edge_points` finds points of edges and of thin lines and
`colour_edges` adds those between colours of equal lightness; `linking` and `chains` put points
in order; `jpeg_blocks` and `point_measures` tell noise, texture and form apart; `bridging`
joins lines across gaps and `selection` decides which are drawn; `polylines` and `curve_fitting`
make curves of them. `pipeline` calls them all.
"""

from __future__ import annotations

from worker.picture.outline.pipeline import find_strokes

__all__ = ["find_strokes"]
