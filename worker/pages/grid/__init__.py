"""The pages of a pack with a grid, and the grid itself."""
