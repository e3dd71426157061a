"""Learning platforms, logins under way, launches and results as frozen dataclasses."""

from __future__ import annotations

from dataclasses import dataclass

#: How long a login may take, from its start to the launch (our choice: somebody signs in).
LOGIN_S = 600.0
#: How long the page of one launch may have its session renewed (our choice: a day at school).
LAUNCH_S = 8 * 3600.0


@dataclass(frozen=True, kw_only=True)
class NewPlatform:
    """A platform as its administrator gives it to the operator.

    Attributes:
        tutor_id: The tutor whose classes are made for its courses.
        deployment_ids: The deployments from which launches are taken.
        origins: Origins of pages that may show ours in a frame.
        service_hosts: Hosts, with their ports, of gradebook and member lists, besides those of
            the three addresses.
    """

    tutor_id: str
    name: str
    issuer: str
    client_id: str
    deployment_ids: tuple[str, ...]
    auth_url: str
    token_url: str
    jwks_url: str
    origins: tuple[str, ...]
    service_hosts: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class PlatformRow:
    """A platform; `site_id` is the course site in whose name it acts here."""

    id: str
    site_id: str
    issuer: str
    client_id: str
    deployment_ids: tuple[str, ...]
    auth_url: str
    token_url: str
    jwks_url: str
    origins: tuple[str, ...]
    created_at: float
    service_hosts: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class LoginRow:
    """A login under way; its secrets are stored as hashes.

    Attributes:
        browser: What only the browser knows in which it began.
        target_link_uri: Where the platform said the launch would go.
        in_storage: Whether the platform offered to keep `browser` for that page.
    """

    state: str
    nonce: str
    browser: str
    platform_id: str
    target_link_uri: str
    in_storage: bool


@dataclass(frozen=True, kw_only=True)
class LaunchRow:
    """A launch whose page may have its session renewed, or sign its tutor in."""

    platform_id: str
    class_id: str
    person_id: str
    ends_at: float


@dataclass(frozen=True, kw_only=True)
class ContextRow:
    """A course of a platform, and the class that it is here.

    Attributes:
        members_url: Where its members are listed; None: the platform has not said.
    """

    platform_id: str
    deployment_id: str
    context_id: str
    class_id: str
    members_url: str | None = None


@dataclass(frozen=True, kw_only=True)
class ResultRow:
    """What is to be told to a platform's gradebook of one student.

    Attributes:
        line_item: Address of the column.
        subject: The platform's own id of the student.
        since: Packs that were asked for from then on count.
        pack_id: The pack that was told last; None: none yet.
        attempts: Failed deliveries since the last one that succeeded.
    """

    id: str
    platform_id: str
    person_id: str
    line_item: str
    subject: str
    home: str
    since: float
    pack_id: str | None
    attempts: int
