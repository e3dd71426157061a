"""Files as answers: ranges, checksums, names, and archives made while they are sent."""
