"""How a call is sent: retried, with a photo, to a file, or page by page."""
