"""What a launch names is asked on hosts that the operator named, with their ports."""

from __future__ import annotations

import pytest

from worker.lti.service_hosts import is_service_of
from worker.store.ledger import PlatformRow

PLATFORM = PlatformRow(
    id="plf_1",
    site_id="sit_1",
    issuer="https://issuer.example",
    client_id="here",
    deployment_ids=("1",),
    auth_url="https://sso.platform.example/auth",
    token_url="https://Platform.example:8443/token",  # noqa: S106 -- It is an address.
    jwks_url="https://keys.platform.example/jwks",
    origins=("https://pages.example",),
    created_at=0.0,
    service_hosts=("grades.example", "[2001:db8::1]:444"),
)


@pytest.mark.parametrize(
    "url",
    [
        "https://sso.platform.example/members",
        "https://SSO.platform.example:443/members",
        "https://platform.example:8443/",
        "https://keys.platform.example",
        "https://grades.example/items/3?type=1",
        "https://[2001:db8::1]:444/",
    ],
)
def test_its_own_hosts_are_asked(url: str) -> None:
    assert is_service_of(PLATFORM, url)


@pytest.mark.parametrize(
    "url",
    [
        "https://platform.example/members",
        "https://sso.platform.example:8443/members",
        "https://other.sso.platform.example/",
        "https://issuer.example/",
        "https://pages.example/",
        "https://grades.example:444/",
        "https://[2001:db8::1]/",
        "https://127.0.0.1/",
    ],
)
def test_no_other_host_or_port_is(url: str) -> None:
    assert not is_service_of(PLATFORM, url)
