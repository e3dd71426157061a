"""Storage in a bucket that speaks the protocol of Amazon S3, for many machines without a folder.

    <bucket>/<prefix>references/<id>/…, <bucket>/<prefix>packs/<id>/<attempt>/…

An object appears complete or not at all, so publishing is uploading. The objects of a key appear
one by one; nothing names a key before `publish` has returned. Workspaces and copies of objects
that are read lie in a folder on this machine, which may be lost at any time.

RICALCO_STORAGE_URL is `s3://bucket/prefix?endpoint=https://host&region=name`; both queries may be
left out. A third, `public=https://host`, is the endpoint as browsers reach it, where that is
another one: presigned addresses for them begin with it. The access key comes from where the AWS
libraries look for it (environment, file, role), so that it stands in no setting of ours.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any
from urllib.parse import parse_qs, urlsplit

from worker.errors import NotFound, SettingInvalid, StorageUnavailable
from worker.store.files.copies import Copies
from worker.store.files.folder import FolderStorage
from worker.store.files.protocol import (
    PRESIGNED_S,
    PROBE,
    ShownFile,
    key_parts,
    requested_parts,
)

if TYPE_CHECKING:
    from mypy_boto3_s3 import S3Client

#: How long a machine waits for a connection and for an answer, in s, and how often it tries.
_CONNECT_S, _READ_S, _TRIES = 5, 20, 3
#: As many keys as one request may delete (Amazon S3 API, "DeleteObjects").
_DELETED_AT_ONCE = 1000
_MISSING = {"404", "NoSuchKey", "NotFound"}


@dataclass(frozen=True)
class Bucket:
    """Where objects are kept.

    Attributes:
        name: The bucket.
        prefix: What every object's name begins with; empty or ending with a slash.
        endpoint: Address of the server; None: Amazon's own.
        region: None: that of the environment.
        public: The server's address for browsers; None: the same.
    """

    name: str
    prefix: str = ""
    endpoint: str | None = None
    region: str | None = None
    public: str | None = None

    @classmethod
    def from_url(cls, written: str) -> Bucket:
        """Read a storage URL.

        Raises:
            SettingInvalid: It names no bucket, or has a query that is not known.
        """
        url = urlsplit(written)
        query = {name: values[-1] for name, values in parse_qs(url.query).items()}
        endpoint, region = query.pop("endpoint", None), query.pop("region", None)
        public = query.pop("public", None)
        if not url.hostname or query:
            message = (
                "RICALCO_STORAGE_URL must be s3://bucket/prefix, with ?endpoint=, &region= and "
                "&public= where they are needed."
            )
            raise SettingInvalid(message, field="RICALCO_STORAGE_URL")
        prefix = url.path.strip("/")
        return cls(url.netloc, f"{prefix}/" if prefix else "", endpoint, region, public)


class S3Storage:
    """Implements `Storage`, which documents the methods.

    Raises:
        StorageUnavailable: From any method that asks the server: it is silent, or refuses.
    """

    def __init__(self, bucket: Bucket, local: Path) -> None:
        self._bucket = bucket
        self._local = FolderStorage(local)
        self._copies = Copies(local / "copies", self._local)
        self._clients: dict[int, S3Client] = {}
        self._outside: S3Client | None = None
        self._connecting = Lock()

    def workspace(self) -> AbstractContextManager[Path]:
        """A folder on this machine."""
        return self._local.workspace()

    def publish(self, folder: Path, key: str) -> None:
        """Upload file by file."""
        key_parts(key)
        for path in sorted(folder.iterdir()):
            if path.is_file():
                with _translated():
                    self._client.upload_file(
                        str(path), self._bucket.name, self._name(f"{key}/{path.name}")
                    )

    @contextmanager
    def file(self, key: str) -> Iterator[Path]:
        """A copy on this machine, fetched unless the newest one is there."""
        requested_parts(key)
        tag = self._tag(key)
        if tag is None:
            raise NotFound("There is no such file.")
        with self._copies.copy(key, tag, lambda path: self._fetch(key, path)) as path:
            yield path

    def holds(self, key: str) -> bool:
        """By asking for the object's head."""
        requested_parts(key)
        return self._tag(key) is not None

    def presigned(self, key: str, shown: ShownFile, *, outside: bool) -> str:
        """Signed here; the server is not asked."""
        requested_parts(key)
        client = self._client_for_outside() if outside else self._client
        with _translated():
            return client.generate_presigned_url(
                "get_object",
                Params={
                    "Bucket": self._bucket.name,
                    "Key": self._name(key),
                    "ResponseContentType": shown.content_type,
                    "ResponseContentDisposition": shown.disposition,
                    "ResponseCacheControl": shown.caching,
                },
                ExpiresIn=PRESIGNED_S,
            )

    def delete(self, key: str) -> None:
        """The object, and all below it."""
        key_parts(key)
        names = [self._name(key), *(item["Key"] for item in self._listed(f"{key}/"))]
        for at in range(0, len(names), _DELETED_AT_ONCE):
            gone: Any = [{"Key": name} for name in names[at : at + _DELETED_AT_ONCE]]
            with _translated():
                answer = self._client.delete_objects(
                    Bucket=self._bucket.name, Delete={"Objects": gone, "Quiet": True}
                )
            if errors := answer.get("Errors"):
                raise _unavailable(str(errors[0].get("Code")))

    def keys(self, prefix: str) -> Iterator[str]:
        """What the server groups by the next slash."""
        key_parts(prefix)
        found: set[str] = set()
        pages = self._pages(Prefix=self._name(f"{prefix}/"), Delimiter="/")
        for page in pages:
            names = [group["Prefix"].rstrip("/") for group in page.get("CommonPrefixes", [])]
            names += [item["Key"] for item in page.get("Contents", [])]
            found.update(name.removeprefix(self._bucket.prefix) for name in names)
        yield from sorted(found)

    def age_s(self, key: str) -> float:
        """From when the newest object was uploaded until now, both by the server's clock."""
        key_parts(key)
        newest, now = None, datetime.now(UTC)
        for page in self._pages(Prefix=self._name(f"{key}/")):
            # The answer's own date: this machine's clock may be wrong, and decides what is deleted.
            told = page["ResponseMetadata"]["HTTPHeaders"].get("date")
            now = parsedate_to_datetime(told) if told else now
            times = [item["LastModified"] for item in page.get("Contents", [])]
            newest = max([*times, newest] if newest else times, default=None)
        return 0.0 if newest is None else max(0.0, (now - newest).total_seconds())

    def tidy(self) -> int:
        """Workspaces on this machine."""
        return self._local.tidy()

    def check_room(self) -> None:
        """On this machine, where packs are made; a bucket has no end, but may not be reached."""
        self._local.check_room()
        with _translated():
            self._client.head_bucket(Bucket=self._bucket.name)

    def close_to_others(self) -> None:
        """On this machine; who may read the bucket is said there."""
        self._local.close_to_others()

    def check(self) -> None:
        """Write, read and remove a small object, and check the folder on this machine."""
        self._local.check()
        name = self._name(f"check/{os.getpid()}")
        with _translated():
            self._client.put_object(Bucket=self._bucket.name, Key=name, Body=PROBE)
            read = self._client.get_object(Bucket=self._bucket.name, Key=name)["Body"].read()
            self._client.delete_object(Bucket=self._bucket.name, Key=name)
        if read != PROBE:
            message = "What is written to the bucket is not what is read: look at its server."
            raise StorageUnavailable(message)

    @property
    def _client(self) -> S3Client:
        """This process's own client: a fork would share its sockets with its parent."""
        with self._connecting:
            if os.getpid() not in self._clients:
                self._clients = {os.getpid(): _connect(self._bucket)}
            return self._clients[os.getpid()]

    def _client_for_outside(self) -> S3Client:
        """One that knows the server by the address that browsers use; it only signs."""
        if self._bucket.public is None:
            return self._client
        with self._connecting:
            if self._outside is None:
                self._outside = _connect(replace(self._bucket, endpoint=self._bucket.public))
            return self._outside

    def _name(self, key: str) -> str:
        return self._bucket.prefix + key

    def _tag(self, key: str) -> str | None:
        """The object's entity tag; None: there is no such object."""
        from botocore.exceptions import ClientError  # noqa: PLC0415 -- Only where S3 is used.

        try:
            with _translated(passing=ClientError):
                head = self._client.head_object(Bucket=self._bucket.name, Key=self._name(key))
        except ClientError as error:
            if _code(error) in _MISSING:
                return None
            raise _unavailable(_code(error)) from error
        return head["ETag"]

    def _fetch(self, key: str, path: Path) -> None:
        with _translated():
            self._client.download_file(self._bucket.name, self._name(key), str(path))

    def _listed(self, prefix: str) -> Iterator[Any]:
        for page in self._pages(Prefix=self._name(prefix)):
            yield from page.get("Contents", [])

    def _pages(self, **how: Any) -> Iterator[Any]:
        pages = self._client.get_paginator("list_objects_v2").paginate(
            Bucket=self._bucket.name, **how
        )
        with _translated():
            yield from pages


def _connect(bucket: Bucket) -> S3Client:
    # The library takes a third of a second and 30 MB, which a folder does not need.
    import boto3  # noqa: PLC0415
    from botocore.config import Config  # noqa: PLC0415

    return boto3.session.Session().client(
        "s3",
        endpoint_url=bucket.endpoint,
        region_name=bucket.region,
        config=Config(
            connect_timeout=_CONNECT_S,
            read_timeout=_READ_S,
            # Presigned addresses would be signed in an older way, which newer servers refuse.
            signature_version="s3v4",
            retries={"total_max_attempts": _TRIES, "mode": "standard"},
            # Other servers than Amazon's know neither hosts by bucket nor the newest checksums.
            s3={"addressing_style": "path" if bucket.endpoint else "auto"},
            request_checksum_calculation="when_required",
            response_checksum_validation="when_required",
        ),
    )


@contextmanager
def _translated(passing: type[Exception] | tuple[()] = ()) -> Iterator[None]:
    """Turn the library's errors into StorageUnavailable, but for those of one kind."""
    from boto3.exceptions import Boto3Error  # noqa: PLC0415
    from botocore.exceptions import BotoCoreError, ClientError  # noqa: PLC0415

    try:
        yield
    except passing:
        raise
    except ClientError as error:
        raise _unavailable(_code(error)) from error
    except (BotoCoreError, Boto3Error) as error:
        raise _unavailable(type(error).__name__) from error


def _code(error: Any) -> str:
    return str(error.response.get("Error", {}).get("Code", ""))


def _unavailable(why: str) -> StorageUnavailable:
    return StorageUnavailable(f"The storage does not answer as it should ({why}). Try again soon.")
