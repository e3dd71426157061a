"""Course sites and their sessions: a tutor makes sites, a site's server starts sessions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from urllib.parse import quote

from ..transport.repeated import each
from ..transport.transport import Call, Transport
from ..values import JsonObject, items_of


class Sites:
    """The course sites of the tutor that the key belongs to."""

    def __init__(self, transport: Transport) -> None:
        self._transport = transport

    def every(self) -> list[JsonObject]:
        """All sites, as JSON."""
        return items_of(self._ask(Call(method="GET", path="/v1/sites")))

    def create(self, wish: JsonObject) -> JsonObject:
        """Make a site; the answer has `site`, `key` and `key_id`, and the key only this once.

        Args:
            wish: The request: `name`, and optional `class_ids`, `scopes`, `origins`,
                `expires_at`.

        Raises:
            RequestRefused, StateRefused: With the fault and its field.
        """
        return self._ask(Call(method="POST", path="/v1/sites", json=wish, repeatable=False))

    def get(self, site_id: str) -> JsonObject:
        """A site: what it may do where, until when, and when it was used last."""
        return self._ask(Call(method="GET", path=_site(site_id)))

    def change(self, site_id: str, changes: JsonObject) -> JsonObject:
        """Change what is given, at once; its sessions lose what it loses."""
        return self._ask(Call(method="PATCH", path=_site(site_id), json=changes))

    def delete(self, site_id: str) -> None:
        """Delete a site; students stay in their classes with their packs."""
        self._transport.send(Call(method="DELETE", path=_site(site_id), repeatable=False))

    def keys(self, site_id: str) -> list[JsonObject]:
        """Its keys without their secrets, and when each was used last."""
        return items_of(self._ask(Call(method="GET", path=f"{_site(site_id)}/keys")))

    def issue_key(self, site_id: str, label: str = "") -> JsonObject:
        """Make another key; the others open as before. The answer is that of `create`."""
        path = f"{_site(site_id)}/keys"
        return self._ask(Call(method="POST", path=path, json={"label": label}, repeatable=False))

    def withdraw_key(self, site_id: str, key_id: str) -> None:
        """Withdraw a key at once, with the sessions that were started with it."""
        path = f"{_site(site_id)}/keys/{quote(key_id, safe='')}"
        self._transport.send(Call(method="DELETE", path=path, repeatable=False))

    def log(self, site_id: str) -> Iterator[JsonObject]:
        """What the site did, the newest first; pages are fetched as they are needed."""
        return each(self._transport, f"{_site(site_id)}/log")

    def _ask(self, call: Call) -> JsonObject:
        return self._transport.document(call, "course site")


class Sessions:
    """Sessions of students, for the server of the course site that the key belongs to."""

    def __init__(self, transport: Transport) -> None:
        self._transport = transport

    def start(
        self, student_id: str, origin: str, scopes: Sequence[str] | None = None
    ) -> JsonObject:
        """Start a session; the answer has its `token`, which opens for ten minutes.

        Args:
            student_id: A student in one of the site's classes.
            origin: The origin of the page that will show the student's work.
            scopes: What the student may do; by default make and fetch packs.

        Raises:
            RequestRefused, StateRefused: With the fault and its field.
        """
        wish: JsonObject = {"student_id": student_id, "origin": origin}
        if scopes is not None:
            wish["scopes"] = list(scopes)
        # A session too many ends by itself, so a call whose answer was lost may be repeated.
        return self._ask(Call(method="POST", path="/v1/sessions", json=wish))

    def renew(self, session_id: str) -> JsonObject:
        """Start another session like this one, for ten minutes more."""
        path = f"{_session(session_id)}/renewals"
        return self._ask(Call(method="POST", path=path))

    def end(self, session_id: str) -> None:
        """End a session at once."""
        self._transport.send(Call(method="DELETE", path=_session(session_id), repeatable=False))

    def _ask(self, call: Call) -> JsonObject:
        return self._transport.document(call, "session")


def _site(site_id: str) -> str:
    return f"/v1/sites/{quote(site_id, safe='')}"


def _session(session_id: str) -> str:
    return f"/v1/sessions/{quote(session_id, safe='')}"
