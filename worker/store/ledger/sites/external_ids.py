"""People of a class by the ids that another system has for them.

Names are no ids: a class may have any number of students of one name. An external id is unique
for its issuer (a course site, or a tutor who asks with their own key), class and role. Whoever
puts the same id again gets the same person, also when both requests come at the same moment.
"""

from __future__ import annotations

from collections.abc import Callable

import sqlalchemy as sa

from worker.errors import NotFound
from worker.store.ledger import erasing
from worker.store.ledger.database.database import Database
from worker.store.ledger.owners import lock_owner
from worker.store.ledger.people import classes, second_tutors, students
from worker.store.ledger.people.records import StudentRow, TutorRow
from worker.store.ledger.sites.records import Placed
from worker.store.ledger.tables import EXTERNAL_IDS, OWNERS

_NOBODY = "Nobody in this class has this id."


class ExternalIds:
    """Each method is one transaction, as in `Ledger`, which has one of these."""

    def __init__(self, database: Database, clock: Callable[[], float]) -> None:
        self._database = database
        self._clock = clock

    def put_student(self, class_id: str, issuer_id: str, external_id: str, name: str) -> Placed:
        """The student of an external id, by this name; put on the roster if they are new.

        Raises:
            NotFound: The issuer does not teach in this class.
            RosterFull: There is no room for another.
        """
        with self._database.writing() as connection:
            # The class is locked, so that two requests do not both find nobody.
            classes.taught(connection, class_id, issuer_id)
            known = _person(connection, "student", issuer_id, external_id, class_id)
            if known is None:
                known = students.append(connection, class_id, [name], self._clock())[0]
                _note(connection, "student", (issuer_id, class_id, external_id), known)
                return Placed(person=students.line(connection, known), made=True)
            _rename(connection, known, name)
            return Placed(person=students.line(connection, known), made=False)

    def student(self, class_id: str, issuer_id: str, external_id: str) -> StudentRow:
        """The student of an external id, or raise NotFound."""
        with self._database.reading() as connection:
            classes.taught(connection, class_id, issuer_id)
            known = _person(connection, "student", issuer_id, external_id, class_id)
            if known is None:
                raise NotFound(_NOBODY, field="external_id")
            return students.line(connection, known)

    def put_tutor(
        self,
        class_id: str,
        issuer_id: str,
        external_id: str,
        *,
        name: str = "",
        tutor_id: str | None = None,
    ) -> Placed:
        """The tutor of an external id, who teaches in the class from now on.

        Args:
            class_id: The class.
            issuer_id: Whose id it is. In all classes of an issuer it means the same tutor.
            external_id: The id.
            name: The tutor's name, where they are not here yet, or were made by this issuer.
            tutor_id: A tutor who is here already, under their own name. Only the class's own
                tutor may say that: whoever speaks for an external id could act as them.

        Raises:
            NotFound: The issuer does not teach in this class, or there is no such tutor.
            LimitReached: The class has as many tutors as it may.
        """
        with self._database.writing() as connection:
            lock_owner(connection, issuer_id)
            row = classes.taught(connection, class_id, issuer_id)
            known = _person(connection, "tutor", issuer_id, external_id)
            if tutor_id is not None:
                known = second_tutors.known(connection, tutor_id)
            made = known is None
            if known is None:
                known = second_tutors.make(connection, name, self._clock())
            elif tutor_id is None and name:
                second_tutors.rename_brought(connection, known, name)
            second_tutors.add(connection, row, known, self._clock())
            _replace(connection, "tutor", (issuer_id, class_id, external_id), known)
            return Placed(person=second_tutors.one(connection, row, known), made=made)

    def take_out_tutor(self, class_id: str, issuer_id: str, external_id: str) -> None:
        """Have the tutor of an external id, if there is one, teach in this class no more.

        They stay known by the id, so that they are the same when they are put again.
        """
        theirs = sa.and_(
            EXTERNAL_IDS.c.issuer_id == issuer_id,
            EXTERNAL_IDS.c.class_id == class_id,
            EXTERNAL_IDS.c.external_id == external_id,
        )
        with self._database.writing() as connection:
            erasing.take_out_tutors(connection, theirs)

    def tutor(self, class_id: str, issuer_id: str, external_id: str) -> TutorRow:
        """The tutor of an external id in this class, or raise NotFound."""
        with self._database.reading() as connection:
            row = classes.taught(connection, class_id, issuer_id)
            known = _person(connection, "tutor", issuer_id, external_id, class_id)
            if known is None:
                raise NotFound(_NOBODY, field="external_id")
            return second_tutors.one(connection, row, known)

    def by_person(self, issuer_id: str, class_id: str) -> dict[str, str]:
        """An issuer's ids of the people of a class, by the person's id."""
        theirs = sa.select(EXTERNAL_IDS.c.person_id, EXTERNAL_IDS.c.external_id).where(
            EXTERNAL_IDS.c.issuer_id == issuer_id, EXTERNAL_IDS.c.class_id == class_id
        )
        with self._database.reading() as connection:
            return {row.person_id: row.external_id for row in connection.execute(theirs)}

    def of_person(self, person_id: str) -> tuple[str, ...]:
        """Every external id of a person, for the export of their data."""
        theirs = sa.select(EXTERNAL_IDS.c.external_id).where(EXTERNAL_IDS.c.person_id == person_id)
        with self._database.reading() as connection:
            return tuple(sorted(set(connection.execute(theirs).scalars())))


def _person(
    connection: sa.Connection,
    role: str,
    issuer_id: str,
    external_id: str,
    class_id: str | None = None,
) -> str | None:
    """The id of the person; without a class, in whichever of the issuer's classes."""
    named = sa.and_(
        EXTERNAL_IDS.c.issuer_id == issuer_id,
        EXTERNAL_IDS.c.role == role,
        EXTERNAL_IDS.c.external_id == external_id,
    )
    if class_id is not None:
        named = sa.and_(named, EXTERNAL_IDS.c.class_id == class_id)
    found = connection.execute(sa.select(EXTERNAL_IDS.c.person_id).where(named).limit(1))
    known: str | None = found.scalar_one_or_none()
    return known


def _note(
    connection: sa.Connection, role: str, named: tuple[str, str, str], person_id: str
) -> None:
    issuer_id, class_id, external_id = named
    values = {
        "issuer_id": issuer_id,
        "class_id": class_id,
        "role": role,
        "external_id": external_id,
        "person_id": person_id,
    }
    connection.execute(sa.insert(EXTERNAL_IDS).values(**values))


def _replace(
    connection: sa.Connection, role: str, named: tuple[str, str, str], person_id: str
) -> None:
    issuer_id, class_id, external_id = named
    before = sa.and_(
        EXTERNAL_IDS.c.issuer_id == issuer_id,
        EXTERNAL_IDS.c.class_id == class_id,
        EXTERNAL_IDS.c.role == role,
        EXTERNAL_IDS.c.external_id == external_id,
    )
    connection.execute(sa.delete(EXTERNAL_IDS).where(before))
    _note(connection, role, named, person_id)


def _rename(connection: sa.Connection, person_id: str, name: str) -> None:
    other = sa.and_(OWNERS.c.id == person_id, OWNERS.c.name != name)
    connection.execute(sa.update(OWNERS).where(other).values(name=name))
