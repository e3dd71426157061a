"""A job on the command line: its options, and doing it here or at a service."""
