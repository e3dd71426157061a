"""Course sites: what each may do where, its keys, its log, and sessions for its students."""
