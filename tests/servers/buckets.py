"""A server that speaks the protocol of Amazon S3 (moto, Apache-2.0), for tests of storage."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import count
from typing import Any

import boto3
import pytest
from moto.core.models import DEFAULT_ACCOUNT_ID
from moto.s3.models import s3_backends
from moto.server import ThreadedMotoServer

_NUMBERS = count(1)
#: Any will do: the server asks for some and believes all.
_LOGIN = {"AWS_ACCESS_KEY_ID": "tests", "AWS_SECRET_ACCESS_KEY": "tests"}


@dataclass(frozen=True)
class BucketServer:
    """A server on loopback.

    Attributes:
        endpoint: Its address.
    """

    endpoint: str

    def fresh_url(self) -> str:
        """The storage URL of a new, empty bucket."""
        name = f"files-{next(_NUMBERS)}"
        self.client().create_bucket(Bucket=name)
        return f"s3://{name}/school?endpoint={self.endpoint}&region=us-east-1"

    def fill(self, bucket: str, keys: list[str]) -> None:
        """Put empty objects into a bucket, without a request for each."""
        files = s3_backends[DEFAULT_ACCOUNT_ID]["aws"]
        for key in keys:
            files.put_object(bucket, key, b"")

    def client(self) -> Any:
        """A client of its own, to look into buckets."""
        return boto3.session.Session().client(
            "s3", endpoint_url=self.endpoint, region_name="us-east-1"
        )


@contextmanager
def bucket_server() -> Iterator[BucketServer]:
    """Start one on a free port; its login is in the environment meanwhile."""
    with pytest.MonkeyPatch.context() as patch:
        for name, value in _LOGIN.items():
            patch.setenv(name, value)
        server = ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
        server.start()
        try:
            host, port = server.get_host_and_port()
            yield BucketServer(f"http://{host}:{port}")
        finally:
            server.stop()
