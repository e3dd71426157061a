"""`ricalco lti`: a platform is registered, listed, bound and deleted."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from client.command.main import cli
from tests.migrated import migrated
from worker.errors import NotFound, PlatformUnreachable
from worker.settings import Settings
from worker.store.ledger import Ledger, NewClass, open_ledger

GIVEN = {
    "--issuer": "https://platform.example",
    "--client-id": "ricalco-here",
    "--deployment": "1",
    "--auth-url": "https://sso.platform.example/auth",
    "--token-url": "https://platform.example/token",
    "--jwks-url": "https://platform.example/jwks",
}


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    """The ledger that the command writes to, with one tutor."""
    with closing(open_ledger(Settings(data_dir=tmp_path))) as opened:
        migrated(opened).people.add_tutor("Head of art")
        yield opened


def ask(tmp_path: Path, *arguments: str) -> Result:
    """Run the command."""
    return CliRunner().invoke(cli, ["lti", *arguments, "--data-dir", str(tmp_path)])


def add(tmp_path: Path, **changes: str) -> Result:
    """Register a platform."""
    given = {**GIVEN, **{f"--{name.replace('_', '-')}": one for name, one in changes.items()}}
    return ask(tmp_path, "add", "Course pages", *(part for one in given.items() for part in one))


def test_a_platform_is_registered_and_deleted(tmp_path: Path, ledger: Ledger) -> None:
    made = add(tmp_path)
    assert made.exit_code == 0, made.output
    (row,) = ledger.platforms.all()
    assert made.stdout.strip() == row.id
    assert "/lti/launch" in made.stderr
    assert (row.issuer, row.client_id, row.deployment_ids) == (
        "https://platform.example", "ricalco-here", ("1",)
    )  # fmt: skip
    assert row.origins == ("https://sso.platform.example",)
    (tutor,) = ledger.people.tutors()
    (site,) = ledger.sites.of_tutor(tutor.id)
    assert (site.id, site.name, site.class_ids) == (row.site_id, "Course pages", ())
    assert row.id in ask(tmp_path, "list").stdout
    bound = ledger.classes.add(NewClass(tutor_id=tutor.id, name="Evening class"))
    told = ("--deployment", "1", "--context", "c7", "--class", bound.id)
    assert ask(tmp_path, "bind", row.id, *told).exit_code == 0
    found = ledger.platforms.context(row.id, "1", "c7")
    assert found is not None
    assert found.class_id == bound.id
    assert ask(tmp_path, "delete", row.id).exit_code == 0
    assert ledger.platforms.all() == ()
    assert ledger.classes.get(bound.id, tutor.id) == bound


def test_a_platform_is_registered_once(tmp_path: Path, ledger: Ledger) -> None:
    add(tmp_path)
    again = add(tmp_path)
    assert again.exit_code != 0
    assert "registered already" in str(again.exception)
    assert len(ledger.platforms.all()) == 1


@pytest.mark.parametrize("name", ["auth_url", "token_url", "jwks_url"])
def test_addresses_are_encrypted(tmp_path: Path, ledger: Ledger, name: str) -> None:
    made = add(tmp_path, **{name: "http://platform.example/x"})
    assert isinstance(made.exception, PlatformUnreachable)
    assert ledger.platforms.all() == ()


@pytest.mark.parametrize("origin", ["https://course.example/", "course.example", "*"])
def test_an_origin_is_one(tmp_path: Path, ledger: Ledger, origin: str) -> None:
    assert "is no origin" in add(tmp_path, origin=origin).output
    assert ledger.platforms.all() == ()


def test_hosts_of_its_services_are_named(tmp_path: Path, ledger: Ledger) -> None:
    for wrong in ("https://grades.example", "grades.example/", "a b", "grades.example:99999", ""):
        assert "is no host" in add(tmp_path, service_host=wrong).output
    assert ledger.platforms.all() == ()
    add(tmp_path, service_host="grades.example:8443")
    (row,) = ledger.platforms.all()
    assert row.service_hosts == ("grades.example:8443",)


def test_hosts_of_its_services_are_changed_later(tmp_path: Path, ledger: Ledger) -> None:
    platform = add(tmp_path, service_host="grades.example").stdout.strip()
    members = ("--service-host", "members.example:8443", "--service-host", "grades.example")
    assert ask(tmp_path, "hosts", platform, *members).stdout.split() == [
        "grades.example", "members.example:8443"
    ]  # fmt: skip
    assert "is no host" in ask(tmp_path, "hosts", platform, "--service-host", "a b").output
    left = ask(tmp_path, "hosts", platform, "--remove", "grades.example").stdout.split()
    assert left == ["members.example:8443"] == [*ledger.platforms.get(platform).service_hosts]
    assert isinstance(ask(tmp_path, "hosts", "plf_none").exception, NotFound)


def test_it_is_clear_whose_the_classes_are(tmp_path: Path, ledger: Ledger) -> None:
    ledger.people.add_tutor("Ruth Blume")
    assert "--tutor NAME" in add(tmp_path).output
    assert "no such tutor" in add(tmp_path, tutor="Nobody").output
    assert add(tmp_path, tutor="ruth blume").exit_code == 0


def test_only_a_class_of_its_tutor_is_bound(tmp_path: Path, ledger: Ledger) -> None:
    platform = add(tmp_path).stdout.strip()
    other = ledger.people.add_tutor("Ruth Blume")[0]
    foreign = ledger.classes.add(NewClass(tutor_id=other.id, name="Hers"))
    told = ("--deployment", "1", "--context", "c7", "--class", foreign.id)
    assert isinstance(ask(tmp_path, "bind", platform, *told).exception, NotFound)
