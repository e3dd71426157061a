"""One sheet page: the piece at its true size, and in the slug what is needed to join it.

`page` draws a sheet; `marks` its cut lines and small signs, `head` the head strip, `laps` the
marks that a neighbour covers, `scale_bar` the bars to measure.
"""
