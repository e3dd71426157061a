"""The `ricalco` command: the only package that imports client, service and worker together.

Heavy modules are imported inside functions, so that help, usage errors and requests over
HTTP load neither Flask nor Pillow.
"""
