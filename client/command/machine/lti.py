"""`ricalco lti`: learning platforms, which the operator registers at the service's machine."""

from __future__ import annotations

from contextlib import closing
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

import click

from client.command.machine.serve import DATA_DIR, settings_of

if TYPE_CHECKING:
    from pathlib import Path

    from worker.store.ledger import Ledger, Person

_GIVE = (
    "Give the platform these addresses of the service: /lti/login to begin logins, /lti/launch "
    "for launches and content selection, /lti/jwks for keys."
)


@click.group("lti")
def lti() -> None:
    """Learning platforms that launch students and tutors here (LTI 1.3)."""


@lti.command("add")
@click.argument("name")
@click.option("--issuer", required=True, help="The platform's issuer (iss).")
@click.option("--client-id", required=True, help="The id that it has given to this service.")
@click.option("--deployment", "deployments", multiple=True, required=True, help="A deployment id.")
@click.option("--auth-url", required=True, help="Where it authenticates people.")
@click.option("--token-url", required=True, help="Where it gives access tokens.")
@click.option("--jwks-url", required=True, help="Where it publishes its keys.")
@click.option(
    "--origin",
    "origins",
    multiple=True,
    help="Origin of its pages that show ours in a frame; by default that of --auth-url.",
)
@click.option(
    "--service-host",
    "service_hosts",
    multiple=True,
    help="Host (HOST or HOST:PORT) of its gradebook or member lists, if none of the three URLs'.",
)
@click.option("--tutor", "tutor_name", help="Whose the classes of its courses are.")
@DATA_DIR
def add(
    *,
    name: str,
    tutor_name: str | None,
    data_dir: Path | None,
    origins: tuple[str, ...],
    **given: Any,
) -> None:
    """Register the platform NAME, and print its id here."""
    from service.sites.origins import is_origin
    from worker.lti.fetch import Fetcher
    from worker.store.ledger import NewPlatform, open_ledger

    settings = settings_of({"data_dir": data_dir})
    fetcher = Fetcher(settings.lti_private_hosts)
    for option in ("auth_url", "token_url", "jwks_url"):
        fetcher.check(given[option])
    _check_hosts(given["service_hosts"])
    origins = origins or (_origin(given["auth_url"]),)
    wrong = [one for one in origins if not is_origin(one)]
    if wrong:
        message = f"{wrong[0]} is no origin: write it as https://course.example."
        raise click.UsageError(message)
    with closing(open_ledger(settings)) as ledger:
        ledger.migrate()
        tutor_id = _tutor(ledger, tutor_name).id
        deployments = given.pop("deployments")
        new = NewPlatform(
            tutor_id=tutor_id, name=name, origins=origins, deployment_ids=deployments, **given
        )
        click.echo(ledger.platforms.add(new).id)
    click.echo(_GIVE, err=True)


@lti.command("list")
@DATA_DIR
def list_(*, data_dir: Path | None) -> None:
    """List the platforms."""
    with closing(_opened(data_dir)) as ledger:
        for one in ledger.platforms.all():
            told = ", ".join(one.deployment_ids)
            click.echo(f"{one.id}  {one.issuer}  {one.client_id}  {told}  {one.jwks_url}")


@lti.command("hosts")
@click.argument("platform")
@click.option(
    "--service-host",
    "hosts",
    multiple=True,
    help="A further host (HOST or HOST:PORT) of its gradebook or member lists.",
)
@click.option("--remove", "gone", multiple=True, help="A host that it has no more.")
@DATA_DIR
def hosts_(
    *, platform: str, hosts: tuple[str, ...], gone: tuple[str, ...], data_dir: Path | None
) -> None:
    """Change the hosts of PLATFORM's services, and print those that it then has."""
    _check_hosts(hosts)
    with closing(_opened(data_dir)) as ledger:
        for one in ledger.platforms.change_hosts(platform, hosts, gone).service_hosts:
            click.echo(one)


@lti.command("bind")
@click.argument("platform")
@click.option("--deployment", required=True, help="The deployment id of the course.")
@click.option("--context", required=True, help="The platform's id of the course.")
@click.option("--class", "class_id", required=True, help="The class that it is here.")
@DATA_DIR
def bind(
    *, platform: str, deployment: str, context: str, class_id: str, data_dir: Path | None
) -> None:
    """Have a course of PLATFORM be a class that is here already."""
    with closing(_opened(data_dir)) as ledger:
        ledger.platforms.bind(ledger.platforms.get(platform), deployment, context, class_id)


@lti.command("delete")
@click.argument("platform")
@DATA_DIR
def delete(*, platform: str, data_dir: Path | None) -> None:
    """End launches from PLATFORM; classes and students stay."""
    with closing(_opened(data_dir)) as ledger:
        row = ledger.platforms.get(platform)
        ledger.sites.delete(row.site_id, ledger.sites.find(row.site_id).tutor_id)


def _opened(data_dir: Path | None) -> Ledger:
    from worker.store.ledger import open_ledger

    ledger = open_ledger(settings_of({"data_dir": data_dir}))
    ledger.migrate()
    return ledger


def _tutor(ledger: Ledger, name: str | None) -> Person:
    """The tutor of this name, or the only one there is.

    Raises:
        UsageError: There is none, or it is not clear who is meant.
    """
    from worker.store.ledger import same_name

    found = ledger.people.tutors()
    if name is not None:
        found = tuple(one for one in found if same_name(one.name) == same_name(name))
    if len(found) == 1:
        return found[0]
    if not found:
        message = "There is no such tutor: make one with ricalco tutor NAME."
        raise click.UsageError(message)
    message = "Say whose the classes are: --tutor NAME."
    raise click.UsageError(message)


def _check_hosts(hosts: tuple[str, ...]) -> None:
    """Raise UsageError where one is no host."""
    from worker.lti.service_hosts import service_host

    for one in hosts:
        try:
            service_host(one)
        except ValueError as error:
            message = f"{one} is no host: write it as services.platform.example, or with :PORT."
            raise click.UsageError(message) from error


def _origin(url: str) -> str:
    parts = urlsplit(url)
    return f"{parts.scheme}://{parts.netloc}"
