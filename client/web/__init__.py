"""The page: static files that run in a browser and know the HTTP API only.

They need no build step. This module gives their folder to the command, which passes it to the
service; the service imports nothing from here.
"""

from __future__ import annotations

from pathlib import Path

#: The folder that `ricalco serve` gives to the service as the setting `page_dir`.
FOLDER = Path(__file__).resolve().parent
