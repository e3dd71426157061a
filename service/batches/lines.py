"""From what a batch asks for to one planned line for each pack, in roster order.

A line that cannot be made says why and stops nobody else: a student without a photo must
not keep a class from printing.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from copy import copy
from dataclasses import dataclass, field, replace
from typing import Any

from service.access.settled_spec import start_from
from service.batches.schemas import MAX_ITEMS, BatchItemRequestSchema
from service.batches.wish_table import Wish, read_wishes
from service.classes.roster import clean_name
from service.classes.spreadsheet import fold
from service.http.resources import request_invalid
from service.packs.planner import plan_for
from service.runtime.context import get_context, owner_id
from worker.errors import FormatUnknown, NotFound, RicalcoError, SpecInvalid, TableUnreadable
from worker.spec.json import load_spec
from worker.spec.plan import Plan
from worker.spec.spec import Spec
from worker.store.ledger import ClassRow, Holding, Json, PackRow, StudentRow, alike, same_name

_ITEMS = BatchItemRequestSchema()
_MM2_PER_M2 = 1e6
#: Of a student's pack, what a batch takes over; sheets and printer are whose who prints.
_ASKED = ("support", "crop", "rotate_deg", "tone", "seams", "grid")


@dataclass(frozen=True, kw_only=True)
class Line:
    """One pack to be, or why there will be none.

    Attributes:
        position: Place in the batch, from 0.
        student: None: the tutor's own copy.
        reference_id, spec, plan: None where `error` says why.
    """

    position: int
    student: StudentRow | None
    title: str
    note: str
    reference_id: str | None = None
    spec: Spec | None = None
    plan: Plan | None = None
    error: RicalcoError | None = None

    @property
    def pages(self) -> int:
        """All pages of the pack."""
        return self.plan.page_count if self.plan else 0

    @property
    def ink_m2(self) -> float:
        """How much of the picture ink covers, in square metres of black."""
        if self.plan is None:
            return 0.0
        picture = self.plan.picture
        return self.plan.mean_coverage * picture.width_mm * picture.height_mm / _MM2_PER_M2


def lines_of(group: ClassRow, wish: dict[str, Any]) -> list[Line]:
    """The planned lines of a batch.

    Args:
        group: One of the asker's classes.
        wish: What `BatchRequestSchema` read.

    Raises:
        TableUnreadable: The table cannot be read, or names nobody on the roster.
        RequestInvalid: An item names nobody on the roster.
    """
    roster = [
        one for one in get_context().ledger.students.of_class(group.id) if not one.withdrawn_at
    ]
    maker = _Maker(group, wish, roster)
    placed = sorted(_wishes(wish, roster), key=lambda pair: pair[1].position if pair[1] else -1)
    with get_context().drawing_limit.slot():
        return [
            maker.line(position, own, student) for position, (own, student) in enumerate(placed)
        ]


def _wishes(
    wish: dict[str, Any], roster: list[StudentRow]
) -> Iterator[tuple[Wish, StudentRow | None]]:
    """Each wish with whom it is for."""
    if wish["table"] is not None:
        asked = read_wishes(wish["table"])
        _bound(len(asked))
        for own in asked:
            _check(own)
    elif wish["items"] is not None:
        asked = tuple(map(_ITEMS.wish, wish["items"]))
    else:
        asked = tuple(Wish(student=one.id) for one in roster)
    for place, own in enumerate(asked):
        yield own, _student(own, place, roster)


def _bound(count: int) -> None:
    if not 0 < count <= MAX_ITEMS:
        raise TableUnreadable(f"The table has {count} lines; a batch has 1 to {MAX_ITEMS}.")


def _check(own: Wish) -> None:
    """Hold a table's line to what an item of the same request is held to.

    Raises:
        TableUnreadable: A title or a note is too long, or a photo's id is none.
    """
    given = {name: getattr(own, name) for name in _ITEMS.fields if name in own.cells}
    for name, sentences in _ITEMS.validate(given).items():
        cell = own.cell_of(str(name))
        if cell is not None:
            raise cell.refused(" ".join(sentences))


def _student(own: Wish, place: int, roster: list[StudentRow]) -> StudentRow | None:
    """Who is meant: by id, or by a name that only one has, spelt as who joins may.

    The closest spelling decides: `Müller, Jürgen` is not `Müller Jürgen` where both are there.
    """
    if not own.student:
        return None
    meant = meant_by(own.student, roster)
    if len(meant) == 1:
        return meant[0]
    why = _several(meant) if meant else f"Nobody on the roster is called {own.student}."
    cell = own.cell_of("student")
    if cell is not None:
        raise cell.refused(why)
    raise request_invalid({f"items.{place}.student": [why]})


def meant_by(written: str, roster: list[StudentRow]) -> list[StudentRow]:
    """Those on the roster whose id or name comes closest to what is written; none, one or more."""
    spellings = (
        lambda one: one.id == written,
        lambda one: clean_name(one.name) == clean_name(written),
        lambda one: same_name(one.name) == same_name(written),
        lambda one: fold(one.name) == fold(written),
        lambda one: alike(one.name, written),
    )
    found = (list(filter(is_meant, roster)) for is_meant in spellings)
    return next(filter(None, found), [])


def _several(meant: list[StudentRow]) -> str:
    """Who might be meant, and how to say which."""
    known = ", ".join(f"{one.name} (place {one.position + 1}, id {one.id})" for one in meant)
    return f"Several on the roster can be meant: {known}. Write the id in place of the name."


@dataclass(eq=False)
class _Maker:
    """Plans lines; equal ones are planned once."""

    group: ClassRow
    wish: dict[str, Any]
    roster: list[StudentRow]
    _plans: dict[tuple[str, str], tuple[Spec, Plan] | RicalcoError] = field(default_factory=dict)
    _held: dict[str, Holding] = field(init=False)

    def __post_init__(self) -> None:
        self._held = get_context().ledger.holdings.of_class(self.group.id)

    def line(self, position: int, own: Wish, student: StudentRow | None) -> Line:
        """Plan one line."""
        asked = self._asked(own, student)
        title = own.title if own.title is not None else self.wish["title"]
        if own.title is None and asked and asked.title:
            title = asked.title
        note = own.note if own.note is not None else self.wish["note"]
        line = Line(position=position, student=student, title=title, note=note)
        try:
            wanted = asked.reference_id if asked else self._wanted(own, student)
            reference_id = _usable(wanted, student)
            spec, plan = self._planned(reference_id, own, asked)
        except RicalcoError as error:
            return replace(line, error=_located(own, error))
        return replace(line, reference_id=reference_id, spec=spec, plan=plan)

    def _asked(self, own: Wish, student: StudentRow | None) -> PackRow | None:
        """The pack that a student has asked for, where the batch is to go by it."""
        if not self.wish["as_asked"] or own.reference_id or student is None:
            return None
        return self._held.get(student.id, Holding()).asked

    def _wanted(self, own: Wish, student: StudentRow | None) -> str:
        """The line's photo, the batch's, or the student's newest."""
        wanted = own.reference_id or self.wish["reference_id"]
        if wanted is None and student is not None:
            photos = self._held.get(student.id, Holding()).references
            wanted = photos[0].id if photos else None
        if wanted is None:
            raise NotFound("There is no photo yet.", field="reference_id")
        return str(wanted)

    def _planned(self, reference_id: str, own: Wish, asked: PackRow | None) -> tuple[Spec, Plan]:
        shared = start_from(self.group.settings.defaults, self.wish["spec"])
        if asked:
            shared = start_from(shared, _taken_over(asked.spec, own.spec))
        whole = start_from(shared, own.spec)
        known = (reference_id, json.dumps(whole, sort_keys=True))
        if known not in self._plans:
            self._plans[known] = _plan(reference_id, whole)
        found = self._plans[known]
        if isinstance(found, RicalcoError):
            raise found
        return found


def _located(own: Wish, error: RicalcoError) -> RicalcoError:
    """The error with line, column and value where a table's own value is what is wrong."""
    if isinstance(error, SpecInvalid):
        found = ((own.cell_of(path), sentences) for path, sentences in error.fields.items())
        return next((cell.refused(" ".join(why)) for cell, why in found if cell), error)
    cell = own.cell_of(error.field)
    if cell is None:
        return error
    refused = cell.refused(error.detail)
    if isinstance(error, NotFound | FormatUnknown):
        return refused
    # What only does not fit leaves this line out, as it does where no table is.
    told = copy(error)
    told.detail = refused.detail
    return told


def _usable(reference_id: str, student: StudentRow | None) -> str:
    """The photo, if whoever the line is for may have a pack of it; what the ledger sees again."""
    owner = student.id if student else owner_id()
    ledger = get_context().ledger
    return ledger.reference_for_pack(reference_id, asker_id=owner_id(), owner_id=owner).id


def _taken_over(asked: Json, own: Json) -> Json:
    """What a batch takes of a student's pack; framed anew where the line has a support."""
    taken = {name: asked[name] for name in _ASKED if name in asked}
    taken["print"] = {"mirror": asked["print"]["mirror"]}
    if "support" in own:
        taken.pop("crop", None)
        taken["seams"] = {**taken["seams"], "protect": []}
    return taken


def _plan(reference_id: str, whole: dict[str, Any]) -> tuple[Spec, Plan] | RicalcoError:
    try:
        spec = load_spec(whole)
        return spec, plan_for(reference_id, spec)[1]
    except RicalcoError as error:
        return error
