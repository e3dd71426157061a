"""Pages 4 and 5 of a pack with a grid, and the grid itself.

`squares` draws a grid over any part of the picture; `page` draws the small gridded reference
and `support` how to rule the same grid on the support.
"""
