"""Files that others send: a proxy in front, or the bucket that they are in.

The service checks who asks, as for every file, and then names the file instead of reading it:

* RICALCO_DOWNLOADS=proxy: to nginx, by X-Accel-Redirect, as a path in the folder of files or as
  a presigned address in the bucket. Whoever asks sees neither.
* RICALCO_DOWNLOADS=bucket: to whoever asks, by a redirect to a presigned address. Pages ask with
  scripts, whose content policy allows no other origin: these are sent the file itself.

Conditions and ranges are then answered by whoever sends the file, with an entity tag of its own;
there is no checksum of the service's, which would have to read the whole file.
"""

from __future__ import annotations

from http import HTTPStatus

from flask import Response, request

from service.http.answers.downloads.content_disposition import content_disposition
from service.http.answers.downloads.files import CACHE_CONTROL, TYPES
from worker.settings import Sender
from worker.store.files import ShownFile, Storage

#: Addresses of nginx that it answers after such a header only: deploy/nginx/locations.conf.
STORED, STORED_IN_BUCKET = "/stored/", "/stored-in-bucket"
PRESIGNED = "X-Ricalco-Presigned"


def hand_over(storage: Storage, sender: Sender, key: str, name: str) -> Response | None:
    """The answer that has another program send a stored file; None: the service sends it.

    Args:
        storage: Where the file is.
        sender: Who sends files.
        key: The file's.
        name: The file name of the download.
    """
    if sender == "proxy" and "X-Forwarded-For" in request.headers:
        return _to_proxy(storage, key, _shown(name))
    if sender == "bucket" and request.method == "GET" and not _asked_by_script():
        return _to_bucket(storage, key, _shown(name))
    return None


def _shown(name: str) -> ShownFile:
    return ShownFile(
        content_type=TYPES[name[name.rindex(".") :]],
        disposition=content_disposition(name),
        caching=CACHE_CONTROL,
    )


def _to_proxy(storage: Storage, key: str, shown: ShownFile) -> Response:
    response = Response(content_type=shown.content_type)
    response.headers["Cache-Control"] = shown.caching
    response.headers["Content-Disposition"] = shown.disposition
    address = storage.presigned(key, shown, outside=False)
    if address is None:
        response.headers["X-Accel-Redirect"] = f"{STORED}{key}"
    else:
        response.headers["X-Accel-Redirect"] = STORED_IN_BUCKET
        response.headers[PRESIGNED] = address
    return response


def _to_bucket(storage: Storage, key: str, shown: ShownFile) -> Response | None:
    address = storage.presigned(key, shown, outside=True)
    if address is None:
        return None
    response = Response(status=HTTPStatus.TEMPORARY_REDIRECT)
    response.headers["Location"] = address
    # It opens the file to whoever has it, for a minute.
    response.headers["Cache-Control"] = "private, no-store"
    return response


def _asked_by_script() -> bool:
    """Whether a page asks, for itself, as browsers say (Fetch Metadata)."""
    return request.headers.get("Sec-Fetch-Mode", "navigate") != "navigate"
