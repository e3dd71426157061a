"""The job as it is said on the command line: its options, here or at a service."""
