"""Sessions: a student works in a page of a course site, for ten minutes and without a key."""

from __future__ import annotations

from collections.abc import Sequence
from urllib.parse import quote

from .transport import Call, Transport
from .values import JsonObject, expecting


class Sessions:
    """The sessions that a course site starts; they need the site's key."""

    def __init__(self, transport: Transport) -> None:
        self._transport = transport

    def start(
        self, student_id: str, origin: str, *, scopes: Sequence[str] | None = None
    ) -> JsonObject:
        """Start a session, or the next one before the last ends.

        Hand the answer to the page as it is: `embed.js` passes its `token` to the frame.

        Args:
            student_id: One of the students in the site's classes.
            origin: Origin of the page that the student has open, as `https://course.example`.
            scopes: What the student may do; by default, make and fetch packs.

        Returns:
            The session's document; its `token` is shown this once.

        Raises:
            RequestRefused, StateRefused: With the fault and its field.
        """
        wish: JsonObject = {"student_id": student_id, "origin": origin}
        if scopes is not None:
            wish["scopes"] = list(scopes)
        call = Call(method="POST", path="/v1/sessions", json=wish, repeatable=False)
        with expecting("session"):
            return dict(self._transport.json(call))

    def end(self, session_id: str) -> None:
        """End a session before its time, as when the student signs out of the course site.

        Raises:
            StateRefused: It has ended already.
        """
        path = f"/v1/sessions/{quote(session_id, safe='')}"
        self._transport.send(Call(method="DELETE", path=path))
