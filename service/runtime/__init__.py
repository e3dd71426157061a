"""What one web process holds while it runs: settings, ledger, files, caches, counts."""
