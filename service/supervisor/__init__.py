"""One command that starts web and worker, watches both, and stops both."""
