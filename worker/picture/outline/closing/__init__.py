"""Forms closed: drawn lines go on along the reading to the lines that they belong to."""
