"""Rosters: the students of a class, whether each has joined, and how much each has."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import sqlalchemy as sa

from worker.errors import (
    ClassClosed,
    JoiningClosed,
    NameTaken,
    NotFound,
    NotOnRoster,
    RosterChanged,
    RosterFull,
)
from worker.store.ledger import erasing, idempotency
from worker.store.ledger.database.database import Database
from worker.store.ledger.disk.deletions import delete
from worker.store.ledger.keyset import Page, in_order
from worker.store.ledger.packs import packs, references
from worker.store.ledger.people import access_keys, classes
from worker.store.ledger.people.name_matching import alike, same_name
from worker.store.ledger.people.records import ClassRow, IssuedKey, Person, StudentRow, Usage
from worker.store.ledger.records import IdempotentAnswer, new_id
from worker.store.ledger.tables import ACCESS_KEYS, CLASSES, OWNERS
from worker.store.ledger.visibility import classes_of
from worker.store.ledger.webhooks import outbox

#: Most students of one class.
MOST_STUDENTS = 500
_GONE = "There is no such student."


class Students:
    """Each method is one transaction, as in `Ledger`, which has one of these."""

    def __init__(self, database: Database, clock: Callable[[], float]) -> None:
        self._database = database
        self._clock = clock

    def of_class(self, class_id: str, page: Page | None = None) -> tuple[StudentRow, ...]:
        """The roster in its order; the caller has checked that the class may be seen."""
        with self._database.reading() as connection:
            return _roster(connection, OWNERS.c.class_id == class_id, page)

    def get(self, student_id: str, tutor_id: str) -> StudentRow:
        """A student of one of the tutor's classes, or raise NotFound."""
        with self._database.reading() as connection:
            return _taught(connection, student_id, tutor_id)

    def add(
        self,
        class_id: str,
        tutor_id: str,
        names: Sequence[str],
        idempotent: IdempotentAnswer | None = None,
    ) -> tuple[StudentRow, ...]:
        """Append names to the roster; returns the new lines.

        Raises:
            NotFound: The tutor has no such class.
            RosterFull: It would have more than `MOST_STUDENTS`.
        """
        with self._database.writing() as connection:
            classes.taught(connection, class_id, tutor_id)
            ids = append(connection, class_id, names, self._clock())
            rows = _roster(connection, OWNERS.c.id.in_(ids))
            if idempotent is not None:
                idempotency.complete(
                    connection, idempotent.held_key, *idempotent.answer(rows), self._clock()
                )
            return rows

    def reorder(self, class_id: str, tutor_id: str, order: Sequence[str]) -> tuple[StudentRow, ...]:
        """Order the roster by these ids; returns it.

        Raises:
            NotFound: The tutor has no such class.
            RosterChanged: These are not exactly the ids of the students on it now.
        """
        with self._database.writing() as connection:
            classes.taught(connection, class_id, tutor_id)
            theirs = OWNERS.c.class_id == class_id
            if sorted(order) != sorted(one.id for one in _roster(connection, theirs)):
                raise RosterChanged(
                    "The roster has changed meanwhile: look at it again, then put it in order.",
                    field="order",
                )
            for position, student_id in enumerate(order):
                line = sa.update(OWNERS).where(OWNERS.c.id == student_id)
                connection.execute(line.values(position=position))
            return _roster(connection, theirs)

    def change(self, student_id: str, tutor_id: str, changes: dict[str, Any]) -> StudentRow:
        """Change `name`, `position` or `withdrawn`, or raise NotFound."""
        values: dict[str, Any] = {name: changes[name] for name in changes if name != "withdrawn"}
        if "withdrawn" in changes:
            values["withdrawn_at"] = self._clock() if changes["withdrawn"] else None
        with self._database.writing() as connection:
            _taught(connection, student_id, tutor_id)
            if values:
                theirs = sa.update(OWNERS).where(OWNERS.c.id == student_id)
                connection.execute(theirs.values(**values))
            return _taught(connection, student_id, tutor_id)

    def delete(self, student_id: str, tutor_id: str) -> tuple[str, ...]:
        """Delete a student and all that is theirs; returns keys of files, or NotFound."""

        def erase(connection: sa.Connection) -> tuple[str, ...]:
            _taught(connection, student_id, tutor_id)
            return erasing.erase(connection, student_id)

        def theirs(connection: sa.Connection) -> sa.ColumnElement[bool]:
            _taught(connection, student_id, tutor_id)
            return erasing.packs_of([student_id])

        return delete(self._database, erase, theirs)

    def class_of(self, student_id: str) -> ClassRow:
        """A student's class, or raise NotFound."""
        with self._database.reading() as connection:
            theirs = sa.select(OWNERS.c.class_id).where(OWNERS.c.id == student_id)
            class_id = connection.execute(theirs).scalar_one_or_none()
            if class_id is None:
                raise NotFound(_GONE)
            return classes.get(connection, class_id, student_id)

    def photo_count(self, student_id: str) -> int:
        """How many photos a student has."""
        with self._database.reading() as connection:
            return references.count(connection, student_id)

    def usage(self, student_id: str) -> Usage:
        """How much a student has, as the limits count it."""
        with self._database.reading() as connection:
            asked, pages = packs.usage(connection, student_id)
            photos = references.count(connection, student_id)
            return Usage(photos=photos, packs=asked, pages=pages)

    def join(
        self, class_id: str, *, student_id: str | None = None, name: str = "", label: str = ""
    ) -> tuple[Person, IssuedKey]:
        """Issue a key for a place on the roster that no device has joined.

        Args:
            class_id: The class.
            student_id: The place, where the join page lists them.
            name: The name that was typed, where it does not.
            label: The name of the device.

        Raises:
            JoiningClosed, ClassClosed: The class is closed for joining.
            NotFound: There is no such class or place.
            NotOnRoster: The name is not on the roster.
            NameTaken: A device has joined there already.
            RosterFull: The roster is open, and there is no room.
        """
        now = self._clock()
        with self._database.writing() as connection:
            # The class is locked, so that one device joins at a time.
            held = sa.select(CLASSES).where(CLASSES.c.id == class_id).with_for_update()
            row = connection.execute(held).one_or_none()
            if row is None:
                raise NotFound("There is no such class.")
            place = _place(connection, _open(classes.to_class(row), now), student_id, name, now)
            person = connection.execute(sa.select(OWNERS).where(OWNERS.c.id == place)).one()
            issued = access_keys.issue(connection, place, label, now)
            outbox.student_joined(connection, place, class_id, now)
            return access_keys.to_person(person), issued


def _open(row: ClassRow, now: float) -> ClassRow:
    if not row.joinable(now):
        raise JoiningClosed("Your tutor lets nobody join just now: ask them.")
    if row.closes_at is not None and row.closes_at <= now:
        raise ClassClosed("This class is over.")
    return row


def _place(
    connection: sa.Connection, row: ClassRow, student_id: str | None, name: str, now: float
) -> str:
    """The id of the free place; a new one where the name is not on an open roster."""
    roster = _roster(connection, OWNERS.c.class_id == row.id)
    if student_id is not None:
        # Where the names are not shown, devices have no ids either.
        meant = [one for one in roster if one.id == student_id and row.settings.show_names]
        if not meant:
            raise NotFound(_GONE, field="student_id")
    else:
        meant = _called(roster, name)
    free = [one for one in meant if not one.joined and one.withdrawn_at is None]
    if free:
        return free[0].id
    if meant:
        raise NameTaken("Someone has joined under this name: your tutor can give you a new key.")
    if not row.settings.open_roster:
        message = "Nobody on the roster is called so: write it as your tutor does, or ask them."
        raise NotOnRoster(message, field="name")
    return append(connection, row.id, [name], now)[0]


def _called(roster: Sequence[StudentRow], name: str) -> list[StudentRow]:
    """Students of this name; else the only one whose name is `alike`."""
    exactly = [one for one in roster if same_name(one.name) == same_name(name)]
    nearly = [one for one in roster if alike(one.name, name)]
    return exactly or (nearly if len(nearly) == 1 else [])


def append(connection: sa.Connection, class_id: str, names: Sequence[str], now: float) -> list[str]:
    """Append names to the roster; returns ids."""
    theirs = sa.select(sa.func.count(), sa.func.max(OWNERS.c.position))
    count, last = connection.execute(theirs.where(OWNERS.c.class_id == class_id)).one()
    if count + len(names) > MOST_STUDENTS:
        raise RosterFull(f"A class has room for {MOST_STUDENTS} students.")
    start = 0 if last is None else last + 1
    people = [
        Person(
            id=new_id("stu_"),
            role="student",
            name=name,
            class_id=class_id,
            position=position,
            created_at=now,
        )
        for position, name in enumerate(names, start)
    ]
    if people:
        rows = [{**vars(one), "virtual_time": 0.0} for one in people]
        connection.execute(sa.insert(OWNERS), rows)
    return [one.id for one in people]


def line(connection: sa.Connection, student_id: str) -> StudentRow:
    """A student's line on the roster, or raise NotFound."""
    found = _roster(connection, OWNERS.c.id == student_id)
    if not found:
        raise NotFound(_GONE)
    return found[0]


def _taught(connection: sa.Connection, student_id: str, tutor_id: str) -> StudentRow:
    where = sa.and_(OWNERS.c.id == student_id, OWNERS.c.class_id.in_(classes_of(tutor_id)))
    found = _roster(connection, where)
    if not found:
        raise NotFound(_GONE)
    return found[0]


def _roster(
    connection: sa.Connection, where: sa.ColumnElement[bool], page: Page | None = None
) -> tuple[StudentRow, ...]:
    live = sa.and_(ACCESS_KEYS.c.owner_id == OWNERS.c.id, access_keys.LIVE)
    columns = [OWNERS.c[name] for name in StudentRow.__annotations__ if name != "joined"]
    joined = sa.exists().where(live).label("joined")
    lines = sa.select(*columns, joined).where(where, OWNERS.c.role == "student")
    rows = connection.execute(in_order(lines, OWNERS.c.position, OWNERS.c.id, page))
    return tuple(
        StudentRow(**{**row._mapping, "joined": bool(row.joined)})  # noqa: SLF001 - its documented name
        for row in rows
    )
