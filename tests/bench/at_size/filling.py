"""Fills a ledger in bulk with a district: people, classes, photos, packs, batches, answers.

Rows go in without foreign keys being checked and without indexes, which are made anew
afterwards: SQLite in one transaction of `executemany`, PostgreSQL by COPY. What is in it:

- a tutor for every class of 32 students, a key for each of them;
- two photos for each student, one for each tutor;
- packs spread evenly over students; three batches for each class have some of them;
- one owner with many packs, as a course site that asks in its own name;
- the queue: batches of whole classes, of which each tutor paid for all, so that as many packs
  share one start as there are classes;
- one pack in a hundred whose retention time is over.

A stored plan is `PLAN_BYTES` long here. A real one of six sheets has 9,800, so whatever reads
whole rows of packs costs more than is told here.
"""

from __future__ import annotations

import json
import random
import sqlite3
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

import psycopg
import sqlalchemy as sa

from worker.store.ledger.people.credentials import key_hash
from worker.store.ledger.tables import METADATA

PLAN_BYTES = 1000
STUDENTS_PER_CLASS = 32
#: Packs of the owner that has many.
MANY = 20_000
#: Packs that are being made.
MAKING = 8
_PLAN = json.dumps({"sheet_count": 6, "resolution": {"finest_line_mm": 0.4}, "pad": "x" * 900})
_SPEC = json.dumps({"support": {"width_mm": 600, "height_mm": 400}, "style": "x" * 500})
_SETTINGS = json.dumps({"keep_days": 30})
_DAY_S = 24 * 3600.0
Row = tuple[Any, ...]


@dataclass(frozen=True, kw_only=True)
class Size:
    """How much there is; the defaults are a district's."""

    packs: int = 1_000_000
    people: int = 100_000
    queued: int = 10_000

    @property
    def classes(self) -> int:
        """How many classes there are."""
        return max(4, self.people // (STUDENTS_PER_CLASS + 1))


@dataclass(kw_only=True)
class District:
    """Who and what there is, for the calls that are measured."""

    size: Size
    now: float = field(default_factory=time.time)
    site: str = "sit_many"

    def tutor(self, number: int) -> str:
        """The tutor of a class."""
        return _id("tut", number % self.size.classes)

    def class_(self, number: int) -> str:
        """A class."""
        return _id("cls", number % self.size.classes)

    def student(self, number: int) -> str:
        """A student; those of one class follow each other."""
        return _id("stu", number % self.students)

    def photo(self, number: int) -> str:
        """The first photo of a student."""
        return _id("ref", number % self.students)

    def class_photo(self, number: int) -> str:
        """The photo of a class's tutor."""
        return _id("rft", number % self.size.classes)

    def pack(self, number: int) -> str:
        """A student's pack: that of the student with the same number, and of each after a turn."""
        return _id("pck", number)

    def batch(self, number: int) -> str:
        """The first batch of a class."""
        return _id("bat", number % self.size.classes)

    @property
    def students(self) -> int:
        """How many students there are."""
        return self.size.classes * STUDENTS_PER_CLASS


def key_of(person_id: str) -> str:
    """The key that a person has here."""
    return f"rck_{person_id}"


def _id(prefix: str, number: int) -> str:
    """An id as long as a real one, in no order, the same in each run."""
    letters = f"{(number * 2654435761 + 12345) % 2**32:08x}"
    return f"{prefix}_{letters}{number:014d}"


def fill(engine: sa.Engine, size: Size) -> District:
    """Fill an empty ledger whose migrations have run."""
    district = District(size=size)
    with engine.connect() as connection:
        driver = connection.connection.driver_connection
        if isinstance(driver, sqlite3.Connection):
            _fill_sqlite(driver, district)
        else:
            assert isinstance(driver, psycopg.Connection)
            _fill_postgresql(driver, district)
    return district


def _fill_sqlite(driver: sqlite3.Connection, district: District) -> None:
    driver.execute("PRAGMA foreign_keys=OFF")
    driver.execute("PRAGMA synchronous=OFF")
    driver.execute("BEGIN IMMEDIATE")
    look = "SELECT name, sql FROM sqlite_master WHERE type='index' AND sql IS NOT NULL"
    indexes = driver.execute(look).fetchall()
    for name, _ in indexes:
        driver.execute(f'DROP INDEX "{name}"')
    for table, rows in tables_of(district):
        places = ",".join("?" * len(METADATA.tables[table].columns))
        into = f"INSERT INTO {table} VALUES ({places})"  # noqa: S608 -- A name of ours.
        driver.executemany(into, _ordered(driver, table, rows))
    for _, statement in indexes:
        driver.execute(statement)
    driver.execute("COMMIT")
    driver.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    driver.execute("PRAGMA synchronous=FULL")
    driver.execute("PRAGMA foreign_keys=ON")


def _ordered(driver: sqlite3.Connection, table: str, rows: Iterable[Row]) -> Iterator[Row]:
    """Rows in the order of the table's columns, which migrations may have added at its end."""
    names = [one.name for one in METADATA.tables[table].columns]
    there = [name for _, name, *_ in driver.execute(f"PRAGMA table_info({table})")]
    at = [names.index(name) for name in there]
    return (tuple(row[place] for place in at) for row in rows)


def _fill_postgresql(driver: psycopg.Connection[Any], district: District) -> None:
    with driver.cursor() as cursor:
        cursor.execute("SET session_replication_role = replica")
        cursor.execute("SET maintenance_work_mem = '512MB'")
        look = """SELECT indexname, indexdef FROM pg_indexes WHERE schemaname = 'public'
                  AND indexname NOT IN (SELECT conname FROM pg_constraint)"""
        indexes = cursor.execute(look).fetchall()
        for name, _ in indexes:
            cursor.execute(f'DROP INDEX "{name}"'.encode())
        for table, rows in tables_of(district):
            names = ",".join(f'"{one.name}"' for one in METADATA.tables[table].columns)
            with cursor.copy(f"COPY {table} ({names}) FROM STDIN".encode()) as copy:
                for row in rows:
                    copy.write_row(row)
        for _, statement in indexes:
            cursor.execute(statement.encode())
        cursor.execute("SET session_replication_role = DEFAULT")
    driver.commit()
    driver.autocommit = True
    driver.execute("VACUUM ANALYZE")
    driver.autocommit = False


def tables_of(district: District) -> Iterator[tuple[str, Iterator[Row]]]:
    """All rows, by table; values in the order of `METADATA`'s columns."""
    yield "owners", _rows("owners", _owners(district))
    yield "classes", _rows("classes", _classes(district))
    yield "access_keys", _rows("access_keys", _keys(district))
    yield "photos", _rows("photos", _photos(district))
    yield "packs", _rows("packs", _packs(district))
    yield "batches", _rows("batches", _batches(district))
    yield "batch_items", _rows("batch_items", _items(district))


def _rows(table: str, values: Iterator[dict[str, Any]]) -> Iterator[Row]:
    columns = METADATA.tables[table].columns
    names, defaults = list(columns.keys()), {"room_waits": 0, "resolved_px": 1.0}
    for one in values:
        yield tuple(one.get(name, defaults.get(name)) for name in names)


def _owners(district: District) -> Iterator[dict[str, Any]]:
    common = {"virtual_time": 0.0, "created_at": district.now}
    for number in range(district.size.classes):
        tutor = {"id": district.tutor(number), "name": f"Tutor {number}", "role": "tutor"}
        yield common | tutor | {"virtual_time": 1000.0 + number % 300}
    yield common | {
        "id": district.site,
        "name": "Course",
        "role": "site",
        "tutor_id": district.tutor(0),
    }
    for number in range(district.students):
        yield common | {
            "id": district.student(number),
            "name": f"Student {number}",
            "role": "student",
            "class_id": district.class_(number // STUDENTS_PER_CLASS),
            "position": number % STUDENTS_PER_CLASS,
        }


def _classes(district: District) -> Iterator[dict[str, Any]]:
    for number in range(district.size.classes):
        yield {
            "id": district.class_(number),
            "tutor_id": district.tutor(number),
            "name": f"Class {number}",
            "join_code": f"{number:08d}",
            "joining_open": False,
            "settings": _SETTINGS,
            "created_at": district.now,
        }


def _keys(district: District) -> Iterator[dict[str, Any]]:
    people = [district.tutor(number) for number in range(district.size.classes)]
    people += [district.student(number) for number in range(district.students)]
    for number, person in enumerate(people):
        yield {
            "id": _id("key", number),
            "owner_id": person,
            "hash": key_hash(key_of(person)),
            "label": "phone",
            "created_at": district.now,
            "last_used_at": district.now,
        }


def _photos(district: District) -> Iterator[dict[str, Any]]:
    chance = random.Random(1)  # noqa: S311 -- Nothing secret.
    common = {"width_px": 6000, "height_px": 4000, "format": "jpeg"}
    common |= {"created_at": district.now - 5 * _DAY_S, "delete_after": district.now + 25 * _DAY_S}
    for number in range(district.students):
        for prefix in ("ref", "rfb"):
            sha256 = f"{chance.getrandbits(256):064x}"
            owner = {"owner_id": district.student(number), "sha256": sha256}
            yield common | owner | {"id": _id(prefix, number)}
    for number in range(district.size.classes):
        owner = {"owner_id": district.tutor(number), "sha256": f"{chance.getrandbits(256):064x}"}
        yield common | owner | {"id": district.class_photo(number), "delete_after": None}


def _packs(district: District) -> Iterator[dict[str, Any]]:
    size, now = district.size, district.now
    first_queued = size.packs - size.queued
    many = first_queued - min(MANY, size.packs // 10)
    for number in range(size.packs):
        made_at = now - 20 * _DAY_S * (1 - number / size.packs)
        row: dict[str, Any] = {
            "id": district.pack(number),
            "owner_id": district.student(number),
            "reference_id": district.photo(number),
            "title": f"Still life {number}",
            "number": f"{number * 2654435761 % 2**32:08X}",
            "spec": _SPEC,
            "plan": _PLAN,
            "done": 6,
            "total": 6,
            "step": "",
            "attempt": 1,
            "cancel_requested": False,
            "virtual_time": 999.0 * number / size.packs,
            "not_before": 0.0,
            "created_at": made_at,
            "delete_after": now - 60 if number % 100 == 99 else made_at + 30 * _DAY_S,
        }
        if number >= first_queued:
            row |= _queued(district, number - first_queued)
        else:
            state = {7: "failed", 13: "cancelled"}.get(number % 50, "ready")
            row |= {"state": state, "started_at": made_at, "finished_at": made_at + 5}
            if state == "ready":
                row["files_key"] = f"packs/{row['id']}/token"
        if many <= number < first_queued:
            row |= {"owner_id": district.site, "reference_id": district.class_photo(0)}
        yield row


def _queued(district: District, number: int) -> dict[str, Any]:
    """A pack of the queue; packs of 300 classes, one after the other of each."""
    classes = min(300, district.size.classes)
    class_, place = number % classes, number // classes
    row: dict[str, Any] = {
        "state": "queued",
        "number": None,
        "owner_id": district.student(class_ * STUDENTS_PER_CLASS + place % STUDENTS_PER_CLASS),
        "reference_id": district.class_photo(class_),
        "payer_id": district.tutor(class_),
        "virtual_time": 1000.0 + place,
        "created_at": district.now - 60 + number / 1000,
        "done": 0,
        "attempt": 0,
        "delete_after": district.now + 30 * _DAY_S,
    }
    if number < MAKING:
        row |= {"state": "making", "lease_token": f"t{number}", "lease_holder": f"w/{number}"}
        row |= {"lease_until": district.now + 3600.0, "attempt": 1, "started_at": district.now}
    return row


def _batches(district: District) -> Iterator[dict[str, Any]]:
    for turn in range(3):
        for number in range(district.size.classes):
            yield {
                "id": _batch_id(district, turn, number),
                "class_id": district.class_(number),
                "title": "Monday",
                "created_at": district.now - (3 - turn) * _DAY_S,
                "delete_after": district.now + 30 * _DAY_S,
            }


def _items(district: District) -> Iterator[dict[str, Any]]:
    for turn in range(3):
        for number in range(district.size.classes):
            for place in range(STUDENTS_PER_CLASS):
                student = number * STUDENTS_PER_CLASS + place
                pack = turn * district.students + student
                if pack >= district.size.packs // 2:
                    return
                yield {
                    "batch_id": _batch_id(district, turn, number),
                    "position": place,
                    "student_id": district.student(student),
                    "reference_id": district.photo(student),
                    "pack_id": district.pack(pack),
                    "title": "",
                    "note": "",
                }


def _batch_id(district: District, turn: int, number: int) -> str:
    return _id("bat", turn * district.size.classes + number)
