"""The pages of a pack: map, guide, grid, sheets; the test page; a class's papers."""
