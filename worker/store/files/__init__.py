"""Storage: where files are kept, behind one protocol."""

from __future__ import annotations

from pathlib import Path
from urllib.parse import urlsplit
from urllib.request import url2pathname

from worker.errors import SettingInvalid
from worker.settings import Settings
from worker.store.files.folder import FolderStorage
from worker.store.files.protocol import ShownFile, Storage
from worker.store.files.s3 import Bucket, S3Storage

__all__ = ["FolderStorage", "ShownFile", "Storage", "open_storage"]


def open_storage(settings: Settings) -> Storage:
    """The storage that these settings name; nothing is touched yet.

    Raises:
        SettingInvalid: The URL names no kind of storage that is known.
    """
    url = urlsplit(settings.files_url)
    if url.scheme == "s3":
        return S3Storage(Bucket.from_url(settings.files_url), settings.data_dir / "work")
    if url.scheme != "file":
        message = (
            f"RICALCO_STORAGE_URL begins with {url.scheme}:, which is not known; use file: or s3:."
        )
        raise SettingInvalid(message, field="RICALCO_STORAGE_URL")
    return FolderStorage(Path(url2pathname(url.path)))
