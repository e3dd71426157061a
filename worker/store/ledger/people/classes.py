"""Classes: name, join code and settings for a roster of students."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from worker.errors import LimitReached, NotFound
from worker.spec.short_codes import read_code
from worker.store.ledger import erasing, idempotency
from worker.store.ledger.database.database import Database
from worker.store.ledger.disk.deletions import delete
from worker.store.ledger.keyset import Page, in_order
from worker.store.ledger.owners import lock_owner
from worker.store.ledger.people.credentials import new_code
from worker.store.ledger.people.records import ClassRow, ClassSettings
from worker.store.ledger.records import IdempotentAnswer, Json, new_id
from worker.store.ledger.tables import CLASSES, PRINTERS, REFERENCES
from worker.store.ledger.visibility import classes_of, owned_by, taught_or_attended

_GONE = "There is no such class."


@dataclass(frozen=True, kw_only=True)
class NewClass:
    """A new class of a tutor."""

    tutor_id: str
    name: str
    settings: ClassSettings = ClassSettings()  # noqa: RUF009 -- It is frozen.
    closes_at: float | None = None
    joining_open: bool = False


class Classes:
    """Each method is one transaction, as in `Ledger`, which has one of these."""

    def __init__(self, database: Database, clock: Callable[[], float]) -> None:
        self._database = database
        self._clock = clock

    def add(self, new: NewClass, idempotent: IdempotentAnswer | None = None) -> ClassRow:
        """Insert a class with a new join code; raises NotFound if its tutor was deleted."""
        row = ClassRow(
            id=new_id("cls_"),
            tutor_id=new.tutor_id,
            name=new.name,
            join_code=new_code(),
            joining_open=new.joining_open,
            settings=new.settings,
            closes_at=new.closes_at,
            created_at=self._clock(),
        )
        with self._database.writing() as connection:
            lock_owner(connection, row.tutor_id)
            values = {**vars(row), "settings": row.settings.to_json()}
            connection.execute(sa.insert(CLASSES).values(**values))
            if idempotent is not None:
                idempotency.complete(
                    connection, idempotent.held_key, *idempotent.answer(row), self._clock()
                )
        return row

    def of_tutor(self, tutor_id: str, page: Page | None = None) -> tuple[ClassRow, ...]:
        """The classes in which someone teaches, oldest first."""
        theirs = sa.select(CLASSES).where(CLASSES.c.id.in_(classes_of(tutor_id)))
        with self._database.reading() as connection:
            oldest = in_order(theirs, CLASSES.c.created_at, CLASSES.c.id, page)
            return tuple(to_class(row) for row in connection.execute(oldest))

    def get(self, class_id: str, who: str) -> ClassRow:
        """A class that someone teaches or attends, or raise NotFound."""
        with self._database.reading() as connection:
            return get(connection, class_id, who)

    def by_code(self, code: str) -> ClassRow:
        """The class of a join code, as somebody typed it, or raise NotFound."""
        named = sa.select(CLASSES).where(CLASSES.c.join_code == read_code(code))
        with self._database.reading() as connection:
            row = connection.execute(named).one_or_none()
        if row is None:
            raise NotFound("No class has this code: read it again.", field="code")
        return to_class(row)

    def change(self, class_id: str, tutor_id: str, changes: dict[str, Any]) -> ClassRow:
        """Change columns of a class; `new_code` makes a new code.

        A new `keep_days` applies to existing photos and packs as well. Joining that is opened
        without a time stays open until it is closed; a time opens it.

        Raises:
            NotFound: The tutor has no such class.
        """
        values = {name: value for name, value in changes.items() if name != "new_code"}
        if values.get("joining_until") is not None:
            values["joining_open"] = True
        elif "joining_open" in values:
            values["joining_until"] = None
        if "settings" in values:
            values["settings"] = values["settings"].to_json()
        if changes.get("new_code"):
            values["join_code"] = new_code()
        with self._database.writing() as connection:
            before = taught(connection, class_id, tutor_id)
            if values:
                mine = sa.update(CLASSES).where(CLASSES.c.id == class_id)
                connection.execute(mine.values(**values))
            after = taught(connection, class_id, tutor_id)
            if after.settings.keep_days != before.settings.keep_days:
                erasing.set_retention(connection, class_id, after.settings.keep_s)
            return after

    def copy(
        self, class_id: str, new: NewClass, most: int, idempotent: IdempotentAnswer | None = None
    ) -> ClassRow:
        """Insert a class like another that its tutor teaches, without anybody on its roster.

        Settings, the tutor's own photo as the class's picture, and their own printers that are
        shared with the class are taken over; `new` gives name, tutor and last day.

        Raises:
            NotFound: The tutor has no such class.
            LimitReached: They would have more than `most` printers.
        """
        now = self._clock()
        with self._database.writing() as connection:
            lock_owner(connection, new.tutor_id)
            before = taught(connection, class_id, new.tutor_id)
            own = before.picture_id is not None and _owns_photo(
                connection, before.picture_id, new.tutor_id
            )
            row = ClassRow(
                id=new_id("cls_"),
                tutor_id=new.tutor_id,
                name=new.name,
                join_code=new_code(),
                joining_open=False,
                settings=before.settings,
                closes_at=new.closes_at,
                created_at=now,
                picture_id=before.picture_id if own else None,
                picture=before.picture if own else None,
            )
            values = {**vars(row), "settings": row.settings.to_json()}
            connection.execute(sa.insert(CLASSES).values(**values))
            _copy_printers(connection, before.id, row, most)
            if idempotent is not None:
                idempotency.complete(connection, idempotent.held_key, *idempotent.answer(row), now)
        return row

    def set_picture(
        self, class_id: str, tutor_id: str, reference_id: str | None, framed: Json | None
    ) -> ClassRow:
        """Make a tutor's own photo the class's picture, framed as told; None: it has none.

        Raises:
            NotFound: The tutor has no such class, or the photo is not their own: a student's is
                never shown to the others.
        """
        with self._database.writing() as connection:
            taught(connection, class_id, tutor_id)
            if reference_id is not None and not _owns_photo(connection, reference_id, tutor_id):
                message = "This is no photo of your own: send the photo yourself, then choose it."
                raise NotFound(message, field="reference_id")
            mine = sa.update(CLASSES).where(CLASSES.c.id == class_id)
            connection.execute(mine.values(picture_id=reference_id, picture=framed))
            return taught(connection, class_id, tutor_id)

    def delete(self, class_id: str, tutor_id: str) -> tuple[str, ...]:
        """Delete a class with all that its students have; returns file keys.

        Raises:
            NotFound: The tutor has no such class of their own.
        """

        def erase(connection: sa.Connection) -> tuple[str, ...]:
            owned(connection, class_id, tutor_id)
            return erasing.erase_class(connection, class_id)

        def theirs(connection: sa.Connection) -> sa.ColumnElement[bool]:
            owned(connection, class_id, tutor_id)
            return erasing.packs_of(erasing.students_of(class_id))

        return delete(self._database, erase, theirs)


def _owns_photo(connection: sa.Connection, reference_id: str, tutor_id: str) -> bool:
    """Whether a photo is the tutor's own, or one of their course sites'; it is locked."""
    mine = sa.and_(REFERENCES.c.id == reference_id, owned_by(REFERENCES.c.owner_id, tutor_id))
    found = sa.select(REFERENCES.c.id).where(mine).with_for_update(read=True)
    return connection.execute(found).one_or_none() is not None


def _copy_printers(connection: sa.Connection, class_id: str, to: ClassRow, most: int) -> None:
    """Share copies of a tutor's printers of one class with another."""
    own = sa.select(PRINTERS).where(PRINTERS.c.owner_id == to.tutor_id)
    found = [dict(one) for one in connection.execute(own).mappings()]
    shared = [one for one in found if one["class_id"] == class_id]
    if len(found) + len(shared) > most:
        raise LimitReached(f"You would have more than {most} printers: delete some first.")
    for one in shared:
        new = {"id": new_id("prn_"), "class_id": to.id, "created_at": to.created_at}
        connection.execute(sa.insert(PRINTERS).values(**one | new))


def to_class(row: Any) -> ClassRow:
    """A database row as a value."""
    values = dict(row._mapping)  # noqa: SLF001 - SQLAlchemy's documented name
    return ClassRow(**{**values, "settings": ClassSettings.from_json(values["settings"])})


def get(connection: sa.Connection, class_id: str, who: str) -> ClassRow:
    """A class that someone teaches or attends, or raise NotFound."""
    return _one(
        connection, sa.and_(CLASSES.c.id == class_id, taught_or_attended(CLASSES.c.id, who))
    )


def taught(connection: sa.Connection, class_id: str, tutor_id: str) -> ClassRow:
    """A class in which someone teaches, locked so that its roster does not change, or NotFound."""
    return _one(
        connection, sa.and_(CLASSES.c.id == class_id, CLASSES.c.id.in_(classes_of(tutor_id)))
    )


def owned(connection: sa.Connection, class_id: str, tutor_id: str) -> ClassRow:
    """A tutor's own class, locked as above, or raise NotFound."""
    return _one(connection, sa.and_(CLASSES.c.id == class_id, CLASSES.c.tutor_id == tutor_id))


def _one(connection: sa.Connection, where: sa.ColumnElement[bool]) -> ClassRow:
    row = connection.execute(sa.select(CLASSES).where(where).with_for_update()).one_or_none()
    if row is None:
        raise NotFound(_GONE)
    return to_class(row)
