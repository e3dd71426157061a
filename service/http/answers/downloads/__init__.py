"""Files as responses: ranges, checksums, file names, and archives streamed as they are made."""
