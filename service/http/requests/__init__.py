"""What comes in: bodies, queries, texts and hosts, checked before a view sees them."""
