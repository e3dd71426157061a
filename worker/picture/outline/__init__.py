"""From the master to lines that a draughtsman would trace.

Data flows through the modules in this order: `canvas` reads the picture on a grid laid in
millimetres, `smoothing` smooths it, `points` finds points of edges and of thin lines, `linking`
and `chains` put them in order, `blocks` and `measuring` tell what is noise, texture and form,
`bridging` joins across gaps, `choosing` settles what is drawn, `steadying` and `fitting` make
curves of it; `find` does all of that.
"""

from __future__ import annotations

from worker.picture.outline.find import find_strokes

__all__ = ["find_strokes"]
