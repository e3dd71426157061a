"""The ledger at the size of a school district: filled in bulk, and each of its calls measured."""
