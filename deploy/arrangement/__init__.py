"""The whole arrangement on one machine: what a school runs on several, started by one command.

Redis, PostgreSQL, a bucket, workers with folders of their own, web processes and nginx, each a
program of its own on a free port of loopback. It is for trying and for tests; deploy/OPERATING.md
says how the same parts are run for people.
"""
