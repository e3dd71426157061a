"""What lengths may be off, which are measured, and what a measured test page says."""
