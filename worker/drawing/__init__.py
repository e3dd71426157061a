"""Drawing: a plan and its pieces become the pages of a pack.

In the order in which a page comes about: `fonts`, `text`, `embedding` (letters), `paper`
and `pen` (the file, and drawing on it in millimetres), `ink`, `measures`, `frame` (how
things look, are written, and lie on a page), `linework`, `strokes`, `flat`, `grid` (what
aids draw on any page); then the pages: `plate`, `map`, `map_*`, `tone_key` (page 1),
`guide`, `guide_*`, `typeset` (pages 2 and 3), `grid_page`, `grid_support` (pages 4 and 5,
where there is a grid), `sheet`, `head`, `marks`, `scale_bar` (the sheets); `pack` puts them
together and `raster` shows them on screens.
"""
