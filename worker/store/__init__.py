"""What outlives a process: the ledger and the files."""
