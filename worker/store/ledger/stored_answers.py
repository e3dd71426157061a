"""Stored answers of idempotency keys: they are deleted with what they mention.

An answer is stored for a day, with titles and names in it, and deleting a photo must not leave
its pack's title there. A table lists the ids that each answer mentions, so that the cost of a
deletion does not depend on how many answers are stored.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

import sqlalchemy as sa

from worker.store.ledger.records import ID_LETTERS
from worker.store.ledger.tables import ANSWER_SUBJECTS, IDEMPOTENCY_KEYS

#: The random part of an id, after its prefix. It is a lookahead, so that matches may overlap:
#: random letters may look like the beginning of another id.
_RANDOM_PART = re.compile(rf"_(?=([A-Za-z0-9_-]{{{ID_LETTERS}}}))")
#: As many parameters as one statement may have on any database.
_CHUNK = 500


def note_subjects(connection: sa.Connection, owner_id: str, key: str, body: str) -> None:
    """Store which ids a key's answer mentions."""
    named = [
        {"owner_id": owner_id, "key": key, "subject": subject}
        for subject in sorted(set(_RANDOM_PART.findall(body)))
    ]
    if named:
        connection.execute(sa.insert(ANSWER_SUBJECTS), named)


def drop_subjects(connection: sa.Connection, owner_id: str, key: str) -> None:
    """Delete what was stored by `note_subjects`; deleting the key does so by itself."""
    mine = sa.and_(ANSWER_SUBJECTS.c.owner_id == owner_id, ANSWER_SUBJECTS.c.key == key)
    connection.execute(sa.delete(ANSWER_SUBJECTS).where(mine))


def forget_answers(connection: sa.Connection, ids: Iterable[str]) -> None:
    """Delete every answer that mentions one of these ids."""
    gone = sorted({one.partition("_")[2] for one in ids})
    for some in _chunks(gone):
        naming = sa.select(ANSWER_SUBJECTS.c.owner_id, ANSWER_SUBJECTS.c.key).where(
            ANSWER_SUBJECTS.c.subject.in_(some)
        )
        kept = sa.tuple_(IDEMPOTENCY_KEYS.c.owner_id, IDEMPOTENCY_KEYS.c.key)
        connection.execute(sa.delete(IDEMPOTENCY_KEYS).where(kept.in_(naming)))


def _chunks(ids: list[str]) -> Iterator[list[str]]:
    return (ids[start : start + _CHUNK] for start in range(0, len(ids), _CHUNK))
