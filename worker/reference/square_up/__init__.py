"""From four corners in a photo to a rectangle seen straight on."""
