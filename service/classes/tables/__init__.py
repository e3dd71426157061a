"""Tables in and out: rosters and batches as spreadsheets and people write them."""
