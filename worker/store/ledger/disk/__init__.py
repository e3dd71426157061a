"""The ledger's disk: full, damaged, or still holding what was deleted."""
