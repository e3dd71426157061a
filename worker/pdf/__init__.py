"""PDF files: written as they come, with type, vectors and pictures in exact places."""
