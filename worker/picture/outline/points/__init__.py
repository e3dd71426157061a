"""What is in the picture: points of edges and thin lines, in order along them.

`sampled_picture` samples the picture on a grid in millimetres, `gaussian` smooths it,
`edge_points` finds points of edges and of thin lines and `colour_edges` adds those between colours
of equal lightness. `linking` and `chains` put points in order, `bridging` joins lines across gaps.
`nearness` says what is near to what. `jpeg_blocks` and `point_measures` tell noise, texture and
form apart.
"""
