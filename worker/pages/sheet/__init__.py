"""One sheet: the piece at its true size, and in the slug all that joining it takes."""
