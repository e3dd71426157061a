"""Errors of the service alone: packs that wait too long, faulty requests, refused callers.

RicalcoError
├── WaitsTooLong               waits-too-long
└── RequestError ........... the request itself is at fault
    ├── BodyUnreadable            body-unreadable
    ├── BodyTooLarge              body-too-large
    ├── BodyType                  body-type
    ├── RequestInvalid            request-invalid
    ├── KeyInvalid                idempotency-key-invalid
    ├── HostRefused               host-refused
    ├── OriginRefused             origin-refused
    ├── KeyMissing                key-missing
    ├── KeyUnknown                key-unknown
    ├── NotAllowed                not-allowed
    ├── ScopeMissing              scope-missing
    ├── SiteExpired               site-expired
    ├── SessionEnded              session-ended
    ├── LaunchRefused             launch-refused
    ├── TooManyTries              too-many-tries
    ├── LinkOver                  link-over
    ├── TooManySessions           too-many-sessions
    └── Busy                      busy
        └── QueueFull             queue-full
"""

from __future__ import annotations

from worker.errors import RicalcoError


class WaitsTooLong(RicalcoError):
    """A pack has waited too long, and no worker takes it."""

    code = "waits-too-long"


class RequestError(RicalcoError):
    """The request itself is at fault."""


class BodyUnreadable(RequestError):
    """The body is no JSON, or no form, that can be read."""

    code = "body-unreadable"


class BodyTooLarge(RequestError):
    """The body has more bytes, or more parts, than any request needs."""

    code = "body-too-large"


class BodyType(RequestError):
    """The body is of another content type than this call takes."""

    code = "body-type"


class RequestInvalid(RequestError):
    """A field of the request, outside the spec, is missing, unknown or wrong.

    Attributes:
        fields: Dotted field paths with what is wrong with each.
    """

    code = "request-invalid"

    def __init__(
        self, detail: str, *, fields: dict[str, list[str]], field: str | None = None
    ) -> None:
        super().__init__(detail, field=field)
        self.fields = fields


class KeyInvalid(RequestError):
    """The idempotency key is empty, too long or not printable."""

    code = "idempotency-key-invalid"


class HostRefused(RequestError):
    """The request names a host that this service is not."""

    code = "host-refused"


class OriginRefused(RequestError):
    """A web page elsewhere sent the request."""

    code = "origin-refused"


class KeyMissing(RequestError):
    """This call needs an access key, and none came."""

    code = "key-missing"


class KeyUnknown(RequestError):
    """The access key is nobody's: it is wrong, or was withdrawn."""

    code = "key-unknown"


class NotAllowed(RequestError):
    """The role of the person who asks may not make this call."""

    code = "not-allowed"


class LinkOver(RequestError):
    """The time of a link to a file is over."""

    code = "link-over"


class ScopeMissing(RequestError):
    """A course site, or a session, may not make this call.

    Attributes:
        scope: The scope that would let it; None: none does.
    """

    code = "scope-missing"

    def __init__(self, detail: str, *, scope: str | None = None, field: str | None = None) -> None:
        super().__init__(detail, field=field)
        self.scope = scope


class SiteExpired(RequestError):
    """The time of a course site is over."""

    code = "site-expired"


class SessionEnded(RequestError):
    """The token is of a session that has ended, or of none."""

    code = "session-ended"


class LaunchRefused(RequestError):
    """A launch from a learning platform is not one that may be let in.

    Attributes:
        reason: What somebody who is no administrator can do about it: the name of a text of the
            page (`launch.refused`); empty: nothing.
    """

    code = "launch-refused"

    def __init__(self, detail: str, *, reason: str = "") -> None:
        super().__init__(detail)
        self.reason = reason


class Busy(RequestError):
    """Too many requests of this kind are under way.

    Attributes:
        retry_after_s: Seconds after which to try again.
    """

    code = "busy"

    def __init__(self, detail: str, *, retry_after_s: int = 5) -> None:
        super().__init__(detail)
        self.retry_after_s = retry_after_s


class QueueFull(Busy):
    """Too many packs wait to be made: this one, or this batch, is asked for again later."""

    code = "queue-full"


class TooManyTries(Busy):
    """Too many wrong join codes came from this device, or from everywhere."""

    code = "too-many-tries"


class TooManySessions(Busy):
    """A course site starts more sessions than a class can need."""

    code = "too-many-sessions"
