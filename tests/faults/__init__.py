"""Faults on the real parts while packs are asked for: `python -m tests.faults`.

Nothing is pretended: web, workers, Redis, PostgreSQL, SQLite, an S3 server and the making of packs
are the real ones, on loopback. Only the making of the workers on many machines is slowed down
(`tests.faults.slow_worker`), because a small pack takes less than a tenth of a second and few
faults would meet one.
"""
