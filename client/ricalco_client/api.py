"""The service as a Python object, for course websites and scripts.

ricalco = Ricalco("http://127.0.0.1:8640")
photo = ricalco.references.upload("photo.jpg")
pack = ricalco.packs.create(photo.id, {"support": {"width_mm": 600, "height_mm": 400}})
ricalco.packs.wait(pack.id)
ricalco.packs.download_pack(pack.id, "pack.pdf")
"""

from __future__ import annotations

from collections.abc import Mapping

import requests

from .calls.batches import Batches
from .calls.classes import Classes
from .calls.grids import Grids
from .calls.packs import Packs
from .calls.previews import Previews
from .calls.printers import Printers
from .calls.references import References
from .calls.sites import Sessions, Sites
from .calls.webhooks import Webhooks
from .transport.transport import TIMEOUT_S, Call, Timeout, Transport
from .values import JsonObject, WebhookEvent, expecting
from .verification import verify


class Ricalco:
    """One service.

    Attributes:
        references: Photos.
        previews: Photos as they would be printed.
        grids: Photos under a grid, to draw by eye.
        packs: Packs.
        batches: Packs for a whole class.
        classes: A tutor's classes and rosters.
        printers: Measured printers, and their test pages.
        sites: A tutor's course sites.
        sessions: Students in the pages of a course site, for the site's server.
        webhooks: Addresses that are told what happens.
    """

    def __init__(
        self,
        base_url: str,
        session: requests.Session | None = None,
        timeout: Timeout = TIMEOUT_S,
        *,
        key: str | None = None,
        language: str | None = None,
    ) -> None:
        """Talk to the service at `base_url`.

        Args:
            base_url: Address of the service, as `http://127.0.0.1:8640`.
            session: A requests session with proxies, certificates or headers.
            timeout: Seconds to connect, and seconds to wait for a byte.
            key: Access key, if the service has a tutor.
            language: Of what is printed, as `it`, where neither the spec nor the class says
                another.

        Raises:
            ServiceUnreachable: When `base_url` is no http address.
        """
        self._transport = Transport(base_url, session, timeout, access_key=key, language=language)
        self.references = References(self._transport)
        self.previews = Previews(self._transport)
        self.grids = Grids(self._transport)
        self.packs = Packs(self._transport)
        self.batches = Batches(self._transport)
        self.classes = Classes(self._transport)
        self.printers = Printers(self._transport)
        self.sites = Sites(self._transport)
        self.sessions = Sessions(self._transport)
        self.webhooks = Webhooks(self._transport)

    @staticmethod
    def verify_webhook(
        payload: bytes | str, headers: Mapping[str, str], secret: str
    ) -> WebhookEvent:
        """The event of a request that the service sent to a webhook; no service is asked.

        Args:
            payload: The body as it came: `request.get_data()` in Flask, `request.body` in Django.
            headers: Of the request.
            secret: The webhook's, as it was shown once.

        Raises:
            WebhookRefused: It is not signed with this secret, too old, or not whole: answer with
                400 and do nothing.
            ValueError: The secret is none.
        """
        return verify(payload, headers, secret)

    def plan(self, reference_id: str, spec: JsonObject) -> JsonObject:
        """The plan of sheets for a job; nothing is made or stored.

        Raises:
            SpecRefused: With the field at fault.
        """
        body = {"reference_id": reference_id, "spec": spec}
        answer = self._transport.json(Call(method="POST", path="/v1/plans", json=body))
        with expecting("plan"):
            return dict(answer)

    def sheet_formats(self) -> list[JsonObject]:
        """The sheet formats that the service knows, with the source of each size."""
        return self._items("/v1/sheet-formats")

    def supports(self) -> list[JsonObject]:
        """The supports that the service knows, with the source of each size."""
        return self._items("/v1/supports")

    def healthy(self) -> bool:
        """Whether the service answers.

        Raises:
            ServiceUnreachable: Nothing answers.
        """
        return self._transport.send(Call(method="GET", path="/healthz")).ok

    def _items(self, path: str) -> list[JsonObject]:
        answer = self._transport.json(Call(method="GET", path=path))
        with expecting("list of sizes"):
            return [dict(item) for item in answer["items"]]
