"""A receiver on loopback, and a webhook that leads to it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import pytest

from tests.servers.webhook_receivers import LOOPBACK, Receiver
from worker.jobs.upkeep.webhooks.posting import Poster
from worker.store.ledger import EVENTS, IssuedWebhook, Ledger, NewClass


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    made = Receiver().start()
    yield made
    made.stop()


@pytest.fixture
def poster() -> Poster:
    return Poster(networks=LOOPBACK)


@dataclass
class Hooked:
    """A tutor with a webhook, and a class that students join."""

    ledger: Ledger
    tutor: str
    class_id: str
    issued: IssuedWebhook

    @property
    def id(self) -> str:
        """Of the webhook."""
        return self.issued.webhook.id

    def happens(self, name: str = "Zoë") -> str:
        """A student joins; returns their id."""
        row = self.ledger.students.add(self.class_id, self.tutor, [name])[0]
        self.ledger.students.join(self.class_id, name=name)
        return row.id


def hook(ledger: Ledger, url: str) -> Hooked:
    """A tutor with a webhook there."""
    tutor = ledger.people.add_tutor("Ada")[0].id
    class_id = ledger.classes.add(NewClass(tutor_id=tutor, name="Noon")).id
    ledger.classes.change(class_id, tutor, {"joining_open": True})
    return Hooked(ledger, tutor, class_id, ledger.webhooks.add(tutor, url, tuple(EVENTS)))


@pytest.fixture
def hooked(ledger: Ledger, receiver: Receiver) -> Hooked:
    return hook(ledger, receiver.url)
