"""What people use: the `ricalco` command and the page, as parts of the application.

The client library beside them, `ricalco_client`, is a distribution of its own, which goes into
other people's environments: it is imported by that name, never through this package.
"""
