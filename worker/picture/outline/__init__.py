"""From the master to lines that a draughtsman would trace.

Data flows through the modules in this order: `sampled_picture` samples the picture on a grid in
millimetres, `gaussian` smooths it, `edge_points` finds points of edges and of thin lines and
`colour_edges` adds those between colours of equal lightness; `linking` and `chains` put points in
order. `placed_reading` lays the reading under the picture; `contour_ridges` finds its lines,
`layered_ridges` joins those of its parts and `ridge_places` steps along them; `edge_following` and
`contour_course` find which edges they are, and `contour_lines` writes them. `evidence` says what
the reading makes of each point, `jpeg_blocks` and `point_measures` tell noise, texture and form
apart; `judging` weighs both, `bridging` joins lines across gaps, `selection` decides which are
drawn and `line_weights` how heavy; `shadow_edges` adds edges of shadows if they are wanted.
`straightening`, `polylines` and `curve_fitting` make curves of them. `pipeline` calls them all.
"""

from __future__ import annotations

from worker.picture.outline.pipeline import find_strokes

__all__ = ["find_strokes"]
