"""Periodic repair and clean-up: leases that ran out, missing and orphaned files, retention."""
