"""The database below the ledger: connections, transactions, savepoints, and its clock."""
