"""Kept answers are copies too: what is deleted is deleted from them as well.

An idempotency key keeps its answer for a day, titles and names included. Deleting a photo
must not leave its pack's title there. A table says which answer names what, so that a
deletion costs the same however many answers are kept.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

import sqlalchemy as sa

from worker.store.ledger.records import ID_LETTERS
from worker.store.ledger.tables import ANSWER_SUBJECTS, IDEMPOTENCY_KEYS

#: What follows an id's prefix, wherever it stands; looked at ahead, so that none is missed
#: because another seems to begin within it.
_RANDOM_PART = re.compile(rf"_(?=([A-Za-z0-9_-]{{{ID_LETTERS}}}))")
#: Room for the parameters of one statement on any database.
_CHUNK = 500


def note_subjects(connection: sa.Connection, owner_id: str, key: str, body: str) -> None:
    """Enter everything that a key's answer names."""
    named = [
        {"owner_id": owner_id, "key": key, "subject": subject}
        for subject in sorted(set(_RANDOM_PART.findall(body)))
    ]
    if named:
        connection.execute(sa.insert(ANSWER_SUBJECTS), named)


def drop_subjects(connection: sa.Connection, owner_id: str, key: str) -> None:
    """Forget what a key's answer named; where the key itself goes, the tables do it."""
    mine = sa.and_(ANSWER_SUBJECTS.c.owner_id == owner_id, ANSWER_SUBJECTS.c.key == key)
    connection.execute(sa.delete(ANSWER_SUBJECTS).where(mine))


def forget_answers(connection: sa.Connection, ids: Iterable[str]) -> None:
    """Forget every answer that names one of these."""
    gone = sorted({one.partition("_")[2] for one in ids})
    for some in _chunks(gone):
        naming = sa.select(ANSWER_SUBJECTS.c.owner_id, ANSWER_SUBJECTS.c.key).where(
            ANSWER_SUBJECTS.c.subject.in_(some)
        )
        kept = sa.tuple_(IDEMPOTENCY_KEYS.c.owner_id, IDEMPOTENCY_KEYS.c.key)
        connection.execute(sa.delete(IDEMPOTENCY_KEYS).where(kept.in_(naming)))


def _chunks(ids: list[str]) -> Iterator[list[str]]:
    return (ids[start : start + _CHUNK] for start in range(0, len(ids), _CHUNK))
