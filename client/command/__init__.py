"""The `ricalco` command: the one place where client, service and worker are put together.

Everything heavy is imported inside functions, so that help, usage errors and work over
HTTP load neither Flask nor Pillow.
"""
