"""Data that outlives a process: the ledger, which is a database, and the files."""
