"""What mends and cleans up, every few seconds: lapsed leases, orphaned files, retention."""
