"""Commands of a tutor: classes, rosters, batches, keys."""
