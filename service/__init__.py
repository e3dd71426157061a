"""Who may ask, what they asked for, what they get back: HTTP around the worker's making.

In the order in which a request meets them: `logs`, `guard`, `texts`, `bodies`, `resources`, the
views (`references`, `plans`, `packs`, `events`, `downloads`, `sizes`, `health`, `page`), `files`
and `headers`; `problems` is the one way out for everything that goes wrong. `app` hangs them
together, `web` serves the app, `supervisor` runs web and worker, each a `child`, side by side.
"""
