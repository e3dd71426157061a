"""The atelier: a still life that exists only as formulas, and the camera that takes it."""
