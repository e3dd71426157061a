"""waitress's connections and threads: time limits, bounds, and the order of requests."""
