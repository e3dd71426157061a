"""A tutor with a class of two, a site in it, a batch, and webhooks."""

from __future__ import annotations

from dataclasses import dataclass, field

import pytest

from tests.unit.store.ledger.conftest import Asker
from worker.store.ledger import (
    EVENTS,
    BatchItemRow,
    BatchRow,
    Bounds,
    Ledger,
    MessageRow,
    NewClass,
    NewItem,
    NewPack,
    NewSite,
    PackResult,
)

URL = "https://course.example/hooks"
SCOPES = ("read-class", "webhooks")


@dataclass
class Room:
    """A tutor with a class of two, a site in it, and a batch with a pack for each."""

    ledger: Ledger
    tutor: str = ""
    class_id: str = ""
    site: str = ""
    students: list[str] = field(default_factory=list)
    batch: str = ""
    packs: list[str] = field(default_factory=list)
    hook_id: str = ""

    def furnish(self) -> Room:
        """Everything but webhooks."""
        ledger = self.ledger
        self.tutor = ledger.people.add_tutor("Ada")[0].id
        self.class_id = ledger.classes.add(NewClass(tutor_id=self.tutor, name="Noon")).id
        rows = ledger.students.add(self.class_id, self.tutor, ["Zoë Müller", "李小龍"])
        self.students = [one.id for one in rows]
        new = NewSite(tutor_id=self.tutor, name="Pages", scopes=SCOPES)  # type: ignore[arg-type]
        self.site = ledger.sites.add(new)[0].id
        return self

    def ask(self) -> None:
        """Ask for the batch."""
        row = BatchRow(class_id=self.class_id)
        photo = Asker(self.ledger, self.tutor).reference.id
        items = []
        for position, student in enumerate(self.students):
            pack = NewPack(
                owner_id=student, payer_id=self.tutor, reference_id=photo, spec={}, bounds=Bounds()
            )
            line = BatchItemRow(
                batch_id=row.id, position=position, student_id=student, pack_id=pack.id
            )
            items.append(NewItem(row=line, pack=pack))
            self.packs.append(pack.id)
        self.batch = self.ledger.batches.add(row, self.tutor, items).row.id

    def hook(self, owner: str, *events: str) -> str:
        """The id of a webhook of someone; without events, for all."""
        wanted = events or tuple(EVENTS)
        return self.ledger.webhooks.add(owner, URL, wanted).webhook.id  # type: ignore[arg-type]

    def make(self, *, fail: bool = False) -> str:
        """The next pack is made."""
        claim = self.ledger.claim("me")
        assert claim is not None
        if fail:
            assert self.ledger.fail(claim, "gave-up", "It did not work.")
        else:
            made = PackResult(number="7K3F", files_key=claim.files_key, total=1)
            assert self.ledger.finish(claim, made)
        return claim.pack.id

    def told(self, hook: str) -> list[tuple[str, str]]:
        """What a webhook is told, by event and id, in order of the two."""
        rows: tuple[MessageRow, ...] = self.ledger.deliveries.of_webhook(hook)
        return sorted((one.type, one.about) for one in rows)


@pytest.fixture
def room(ledger: Ledger) -> Room:
    return Room(ledger).furnish()
