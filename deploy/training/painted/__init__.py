"""Scenes of painted things, from back to front: flat parts whose contours are known.

`things` says what may be painted, how often and how large; `heads` and `eyes`, `animals`, and what
is `built` have modules of their own. `studies` are of one subject near by: `furry` faces and
`sitting` animals in `coats`, `blossoms`, a `forest`, `foliage` behind them, and `lights`.
"""
