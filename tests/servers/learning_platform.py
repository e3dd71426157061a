"""A learning platform of the tests' own: what 1EdTech's documents say that a platform sends.

Written to LTI 1.3 Core, Security Framework 1.0, Deep Linking 2.0, Assignment and Grade Services
2.0 and Names and Role Provisioning Services 2.0, with real keys and real HTTP on loopback.
"""

from __future__ import annotations

import base64
import hmac
import json
import time
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread
from typing import Any
from urllib.parse import parse_qs, urlsplit

from cryptography.hazmat.primitives.asymmetric import rsa
from joserfc import jwt
from joserfc.errors import SecurityWarning
from joserfc.jwk import ECKey, RSAKey

CLAIM = "https://purl.imsglobal.org/spec/lti/claim/"
MEMBER = "http://purl.imsglobal.org/vocab/lis/v2/membership#"
INSTITUTION = "http://purl.imsglobal.org/vocab/lis/v2/institution/person#"
COURSE = {"id": "course-7", "label": "ART7", "title": "Drawing, group 7"}
Key = RSAKey | ECKey


@dataclass
class Asked:
    """A request that the platform got."""

    method: str
    path: str
    headers: dict[str, str]
    body: bytes

    @property
    def form(self) -> dict[str, str]:
        """The body as a form, or the query."""
        written = self.body.decode() or urlsplit(self.path).query
        return {name: one[0] for name, one in parse_qs(written).items()}


@dataclass
class LearningPlatform:
    """One platform; tests change its attributes to make it another, or a liar."""

    base: str
    client_id: str = "ricalco-here"
    deployment_id: str = "1:first"
    keys: dict[str, Key] = field(default_factory=lambda: {"k1": new_key("k1")})
    asked: list[Asked] = field(default_factory=list)
    #: What it answers at a path: status, media type, body; a test adds to it.
    answers: dict[str, tuple[int, dict[str, str], bytes]] = field(default_factory=dict)

    #: Pages that it shows, made anew for each request, by path.
    pages: dict[str, Callable[[Asked], str]] = field(default_factory=dict)

    @property
    def issuer(self) -> str:
        return f"{self.base}/issuer"

    @property
    def auth_url(self) -> str:
        return f"{self.base}/auth"

    @property
    def token_url(self) -> str:
        return f"{self.base}/token"

    @property
    def jwks_url(self) -> str:
        return f"{self.base}/jwks"

    def login(self, target: str, **more: str) -> dict[str, str]:
        """The parameters that begin a login (Security Framework 1.0, 5.1.1.1; LTI Core, 4.1)."""
        return {
            "iss": self.issuer,
            "login_hint": "hint-1",
            "target_link_uri": target,
            "client_id": self.client_id,
            "lti_deployment_id": self.deployment_id,
            "lti_message_hint": "message-1",
            **more,
        }

    def claims(self, nonce: str, target: str, **more: Any) -> dict[str, Any]:
        """The claims of a resource link launch of a learner (LTI 1.3 Core, 5.3 and 5.4)."""
        now = int(time.time())
        return {
            "iss": self.issuer,
            "aud": self.client_id,
            "sub": "user-1",
            "iat": now,
            "exp": now + 300,
            "nonce": nonce,
            "name": "Ada Okafor",
            f"{CLAIM}message_type": "LtiResourceLinkRequest",
            f"{CLAIM}version": "1.3.0",
            f"{CLAIM}deployment_id": self.deployment_id,
            f"{CLAIM}target_link_uri": target,
            f"{CLAIM}resource_link": {"id": "link-1", "title": "Make your pack"},
            f"{CLAIM}roles": [f"{MEMBER}Learner"],
            f"{CLAIM}context": COURSE,
            **more,
        }

    def sign(self, claims: dict[str, Any], key_id: str = "k1", **header: Any) -> str:
        """An ID token (Security Framework 1.0, 5.1.2); RS256 unless the header says otherwise."""
        key = self.keys[key_id]
        algorithm = "ES256" if isinstance(key, ECKey) else "RS256"
        return jwt.encode({"alg": algorithm, "kid": key_id, **header}, claims, key)

    def published(self) -> bytes:
        """Its JWK Set (RFC 7517, 5)."""
        keys = [one.as_dict(private=False) for one in self.keys.values()]
        return json.dumps({"keys": keys}).encode()

    def answer(self, asked: Asked) -> tuple[int, dict[str, str], bytes]:
        """What it answers."""
        path = urlsplit(asked.path).path
        if path in self.answers:
            return self.answers[path]
        if path in self.pages:
            content = self.pages[path](asked).encode()
            return 200, {"Content-Type": "text/html; charset=utf-8"}, content
        if path == "/jwks":
            return 200, {"Content-Type": "application/json"}, self.published()
        return 404, {"Content-Type": "text/plain"}, b"nothing here"

    def count(self, path: str) -> int:
        """How often it was asked at a path."""
        return sum(urlsplit(one.path).path == path for one in self.asked)


@cache
def new_key(key_id: str) -> RSAKey:
    """A key of a platform; made once, since it takes a while."""
    return RSAKey.generate_key(2048, {"kid": key_id, "use": "sig", "alg": "RS256"})


def short_key(key_id: str) -> RSAKey:
    """A key that is too short for RS256 (RFC 7518, 3.3)."""
    raw = rsa.generate_private_key(65537, 1024)  # noqa: S505 -- It must be refused.
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", SecurityWarning)
        return RSAKey.import_key(raw, {"kid": key_id, "use": "sig", "alg": "RS256"})


def new_curve_key(key_id: str) -> ECKey:
    """A key for ES256."""
    return ECKey.generate_key("P-256", {"kid": key_id, "use": "sig", "alg": "ES256"})


def unsigned(claims: dict[str, Any], algorithm: str = "none") -> str:
    """A token without a signature (RFC 7519, 6), by hand: libraries rightly make none."""
    parts = ({"alg": algorithm, "kid": "k1"}, claims)
    shown = [base64.urlsafe_b64encode(json.dumps(one).encode()) for one in parts]
    return ".".join(one.rstrip(b"=").decode() for one in shown) + "."


def signed_with_public_key(platform: LearningPlatform, claims: dict[str, Any]) -> str:
    """A token whose HMAC key is the platform's public key, which everybody has (RFC 8725, 2.1)."""
    head, body = unsigned(claims, "HS256").split(".")[:2]
    public = platform.keys["k1"].as_pem(private=False)
    signature = hmac.digest(public, f"{head}.{body}".encode(), "sha256")
    return f"{head}.{body}.{base64.urlsafe_b64encode(signature).rstrip(b'=').decode()}"


@contextmanager
def serving() -> Iterator[LearningPlatform]:
    """A platform that answers on loopback."""
    platform = LearningPlatform(base="")

    class Handler(BaseHTTPRequestHandler):
        def _reply(self) -> None:
            length = int(self.headers.get("Content-Length") or 0)
            body = self.rfile.read(length)
            asked = Asked(self.command, self.path, dict(self.headers), body)
            platform.asked.append(asked)
            status, headers, content = platform.answer(asked)
            self.send_response(status)
            for name, value in {"Content-Length": str(len(content)), **headers}.items():
                self.send_header(name, value)
            self.end_headers()
            self.wfile.write(content)

        do_GET = _reply  # noqa: N815 -- The base class looks for these names.
        do_POST = _reply  # noqa: N815 -- The same.

        def log_message(self, *_: object) -> None:
            """Say nothing."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    platform.base = f"http://127.0.0.1:{server.server_port}"
    thread = Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True)
    thread.start()
    try:
        yield platform
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
