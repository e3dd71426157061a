"""The page: static files that run in a browser and know the HTTP API and nothing else.

There is no step to build them. This module only says where they lie, so that whoever
starts a service can tell it; nothing here is imported by the service.
"""

from __future__ import annotations

from pathlib import Path

#: What `RICALCO_PAGE_DIR` is set to by `ricalco serve`.
FOLDER = Path(__file__).resolve().parent
