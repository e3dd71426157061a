"""The benchmark: ratios within one run, never a timed test. `python -m tests.bench` prints it."""
