"""A tutor with a class of two, and a course site in it."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from worker.store.ledger import IssuedKey, Ledger, NewClass, NewSession, NewSite, SiteRow

ORIGIN = "https://course.example"


@dataclass(frozen=True)
class Room:
    """The ids of who and what is there."""

    tutor: str
    class_id: str
    other_class: str
    students: tuple[str, str]
    site: SiteRow
    key: IssuedKey

    def session(self, student: int = 0) -> NewSession:
        """A session as the site would start it."""
        return NewSession(
            site_id=self.site.id,
            key_id=self.key.access.id,
            student_id=self.students[student],
            origin=ORIGIN,
            scopes=("make-packs", "fetch-packs"),
        )


@pytest.fixture
def room(ledger: Ledger) -> Room:
    tutor = ledger.people.add_tutor("Ada")[0].id
    first, second = (
        ledger.classes.add(NewClass(tutor_id=tutor, name=name)).id for name in ("Noon", "Eve")
    )
    rows = ledger.students.add(first, tutor, ["Zoë Müller", "李小龍"])
    site, key = ledger.sites.add(
        NewSite(tutor_id=tutor, name="Course pages", class_ids=(first,), origins=(ORIGIN,))
    )
    return Room(tutor, first, second, (rows[0].id, rows[1].id), site, key)
