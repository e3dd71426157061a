"""Storage in a bucket: the contract, and what only a bucket can suffer."""

from __future__ import annotations

import functools
import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from unittest.mock import patch
from urllib.parse import parse_qs, urlsplit

import boto3
import pytest
import requests
from botocore.exceptions import EndpointConnectionError

from tests.servers.buckets import BucketServer, bucket_server
from tests.servers.ports import free_port
from tests.unit.store.files.storage_contract import SHOWN, StorageContract, publish, read
from tests.waiting import HANG_S
from worker.errors import NotFound, SettingInvalid, StorageUnavailable
from worker.settings import Settings
from worker.store.files import Storage, open_storage
from worker.store.files.s3 import Bucket, S3Storage

ROOT = Path(__file__).resolve().parents[4]


@pytest.fixture(scope="module")
def server() -> Iterator[BucketServer]:
    """One whose clients share what boto3 reads about the protocol, which takes it longest."""
    with bucket_server() as server, pytest.MonkeyPatch.context() as patch:
        patch.setattr(boto3.session, "Session", functools.cache(boto3.session.Session))
        yield server


@pytest.fixture
def settings(server: BucketServer, tmp_path: Path) -> Settings:
    return Settings(data_dir=tmp_path, storage_url=server.fresh_url())


@pytest.fixture
def storage(settings: Settings) -> Storage:
    return open_storage(settings)


class TestS3Storage(StorageContract):
    """The contract, over a bucket."""


def test_another_machine_reads_what_one_published(settings: Settings, tmp_path: Path) -> None:
    publish(open_storage(settings), "packs/p1/a1")
    other = open_storage(Settings(data_dir=tmp_path / "other", storage_url=settings.storage_url))
    assert read(other, "packs/p1/a1/map.png") == b"map"


def test_what_was_read_is_fetched_once_until_it_changes(settings: Settings) -> None:
    storage = open_storage(settings)
    publish(storage, "packs/p1/a1")
    with patch.object(S3Storage, "_fetch", autospec=True, side_effect=S3Storage._fetch) as fetch:
        assert [read(storage, "packs/p1/a1/map.png") for _ in range(3)] == [b"map"] * 3
        assert fetch.call_count == 1
        publish(storage, "packs/p1/a1", {"map.png": b"newer"})
        assert read(storage, "packs/p1/a1/map.png") == b"newer"
        assert fetch.call_count == 2


def test_a_copy_outlives_its_object_while_it_is_read(settings: Settings) -> None:
    storage = open_storage(settings)
    publish(storage, "packs/p1/a1")
    with storage.file("packs/p1/a1/map.png") as path:
        storage.delete("packs")
        assert path.read_bytes() == b"map"
    with pytest.raises(NotFound), storage.file("packs/p1/a1/map.png"):
        pass


def test_copies_take_no_more_than_their_room(settings: Settings) -> None:
    storage = open_storage(settings)
    assert isinstance(storage, S3Storage)
    storage._copies._most = 2500
    publish(storage, "packs/p1/a1", {f"{n}.png": bytes([n]) * 1000 for n in range(6)})
    for number in range(6):
        assert read(storage, f"packs/p1/a1/{number}.png") == bytes([number]) * 1000
    kept = list((settings.data_dir / "work" / "copies").iterdir())
    assert len(kept) == 2


def test_many_objects_are_deleted_and_listed(server: BucketServer, settings: Settings) -> None:
    """More than a page of a list and a request of deletions hold (1,000 each)."""
    storage = open_storage(settings)
    bucket = Bucket.from_url(settings.storage_url)
    server.fill(bucket.name, [f"school/packs/p1/a1/{number:04}.png" for number in range(1005)])
    assert len(list(storage.keys("packs/p1/a1"))) == 1005
    storage.delete("packs/p1")
    assert list(storage.keys("packs")) == []


def test_a_presigned_address_opens_its_file_as_it_is_to_be_shown(storage: Storage) -> None:
    publish(storage, "packs/p1/a1")
    address = storage.presigned("packs/p1/a1/pack.pdf", SHOWN, outside=False)
    assert address is not None
    # Signature Version 4 (Amazon S3 API): how long it lasts is part of what is signed.
    assert parse_qs(urlsplit(address).query)["X-Amz-Expires"] == ["60"]
    told = requests.get(address, headers={"Range": "bytes=1-3"}, timeout=60)
    assert (told.status_code, told.content) == (206, b"PDF")
    assert told.headers["Content-Type"] == SHOWN.content_type
    assert told.headers["Content-Disposition"] == SHOWN.disposition
    assert told.headers["Cache-Control"] == SHOWN.caching
    storage.delete("packs/p1")
    # A server says 403 to whoever may not list what there is (Amazon S3 API, "GetObject").
    assert requests.get(address, timeout=60).status_code in {403, 404}


@pytest.mark.usefixtures("server")
def test_browsers_are_sent_to_the_address_that_they_reach(tmp_path: Path) -> None:
    url = "s3://files?endpoint=http://10.0.0.5:9000&region=us-east-1&public=https://files.example"
    storage = open_storage(Settings(data_dir=tmp_path, storage_url=url))
    for outside, begin in ((True, "https://files.example/"), (False, "http://10.0.0.5:9000/")):
        address = storage.presigned("packs/p1/a1/pack.pdf", SHOWN, outside=outside)
        assert address is not None
        assert address.startswith(f"{begin}files/packs/p1/a1/pack.pdf?")


def test_an_upload_that_breaks_off_leaves_what_was_there(
    server: BucketServer, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Files beyond 8 MB go up in parts, and appear when the last one is there."""
    storage, bucket = open_storage(settings), Bucket.from_url(settings.storage_url)
    assert isinstance(storage, S3Storage)
    publish(storage, "packs/p1/a1", {"pack.pdf": b"old"})
    upload_part = storage._client.upload_part

    def breaks_off(**part: Any) -> Any:
        if part["PartNumber"] > 1:
            raise EndpointConnectionError(endpoint_url=server.endpoint)
        return upload_part(**part)

    monkeypatch.setattr(storage._client, "upload_part", breaks_off)
    long = {"pack.pdf": bytes(20_000_000)}
    for key in ("packs/p1/a1", "packs/p1/a2"):
        with pytest.raises(StorageUnavailable):
            publish(storage, key, long)
    assert read(storage, "packs/p1/a1/pack.pdf") == b"old"
    assert list(storage.keys("packs/p1")) == ["packs/p1/a1"]
    assert not storage.holds("packs/p1/a2/pack.pdf")
    assert "Uploads" not in server.client().list_multipart_uploads(Bucket=bucket.name)


def test_what_a_killed_worker_sent_is_seen_by_nobody_and_the_bucket_drops_it(
    server: BucketServer, settings: Settings
) -> None:
    storage, client = open_storage(settings), server.client()
    name = Bucket.from_url(settings.storage_url).name
    half = {"Bucket": name, "Key": "school/packs/p1/a1/pack.pdf"}
    begun = client.create_multipart_upload(**half)["UploadId"]
    client.upload_part(**half, UploadId=begun, PartNumber=1, Body=bytes(100))
    assert list(storage.keys("packs")) == []
    assert not storage.holds("packs/p1/a1/pack.pdf")
    rules = json.loads((ROOT / "deploy" / "bucket" / "lifecycle.json").read_text())
    client.put_bucket_lifecycle_configuration(Bucket=name, LifecycleConfiguration=rules)
    kept = client.get_bucket_lifecycle_configuration(Bucket=name)["Rules"]
    assert kept[0]["AbortIncompleteMultipartUpload"] == {"DaysAfterInitiation": 1}
    # Photos and packs go when the ledger says so: no rule deletes what is current.
    assert not any({"Days", "Date"} & set(rule.get("Expiration", {})) for rule in kept)


def test_keys_that_begin_alike_are_told_apart(storage: Storage) -> None:
    publish(storage, "packs/p1/a1")
    publish(storage, "packs/p10/a1")
    storage.delete("packs/p1")
    assert list(storage.keys("packs")) == ["packs/p10"]


def test_nothing_lies_outside_the_prefix(server: BucketServer, settings: Settings) -> None:
    storage = open_storage(settings)
    publish(storage, "packs/p1/a1")
    storage.check()
    bucket = Bucket.from_url(settings.storage_url)
    found = server.client().list_objects_v2(Bucket=bucket.name)["Contents"]
    assert sorted(item["Key"] for item in found) == [
        "school/packs/p1/a1/map.png",
        "school/packs/p1/a1/pack.pdf",
    ]


@pytest.mark.usefixtures("server")
def test_a_server_that_is_not_there_is_told(tmp_path: Path) -> None:
    url = f"s3://files?endpoint=http://127.0.0.1:{free_port()}&region=us-east-1"
    storage = open_storage(Settings(data_dir=tmp_path, storage_url=url))
    with pytest.raises(StorageUnavailable):
        publish(storage, "packs/p1/a1")
    with pytest.raises(StorageUnavailable), storage.file("packs/p1/a1/map.png"):
        pass
    with pytest.raises(StorageUnavailable):
        storage.check_room()


def test_a_bucket_that_is_not_there_is_told(server: BucketServer, tmp_path: Path) -> None:
    url = f"s3://nobodys?endpoint={server.endpoint}&region=us-east-1"
    storage = open_storage(Settings(data_dir=tmp_path, storage_url=url))
    for act in (storage.check, storage.check_room):
        with pytest.raises(StorageUnavailable):
            act()


@pytest.mark.parametrize("url", ["s3://", "s3:///prefix", "s3://bucket?other=1"])
def test_a_url_that_names_no_bucket_is_refused(url: str, tmp_path: Path) -> None:
    with pytest.raises(SettingInvalid, match="bucket"):
        open_storage(Settings(data_dir=tmp_path, storage_url=url))


def test_age_is_by_the_servers_clock_alone(storage: Storage) -> None:
    """It decides what is deleted; a machine that is a day ahead must not take all for old."""
    publish(storage, "references/r1")
    ahead = datetime.now(UTC) + timedelta(days=1)
    with patch("worker.store.files.s3.datetime", SimpleNamespace(now=lambda _: ahead)):
        assert storage.age_s("references/r1") < HANG_S
