"""Periodic repair and clean-up, and webhooks: leases, missing files, orphans, retention."""
