"""What one web process keeps in memory while it runs: context, limits, caches, counters."""
