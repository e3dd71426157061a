"""The items of a batch: one planned pack each, in roster order.

An item that cannot be planned carries its error and does not stop the others: a student
without a photo must not keep a class from printing.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from copy import copy
from dataclasses import dataclass, field, replace
from typing import Any

from service.access.settled_spec import start_from
from service.batches.item_table import ItemRequest, read_item_requests
from service.batches.schemas import MAX_ITEMS, BatchItemRequestSchema
from service.classes.tables.roster import clean_name
from service.classes.tables.spreadsheet import fold
from service.http.language import asked_language
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
#: Parts of the spec of a student's own pack that a batch takes over. Sheets and printer are
#: the tutor's choice, who prints.
_ASKED = ("support", "crop", "rotate_deg", "tone", "seams", "grid", "language")


@dataclass(frozen=True, kw_only=True)
class PlannedItem:
    """A pack that the batch will have made, or the reason why it will not.

    Attributes:
        position: Place in the batch, from 0.
        student: Who gets it; None for the tutor's own copy.
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


def plan_items(group: ClassRow, body: dict[str, Any]) -> list[PlannedItem]:
    """Plan all items of a batch.

    Args:
        group: A class of the tutor who asks.
        body: The request's body as `BatchRequestSchema` loads it.

    Raises:
        TableUnreadable: The table cannot be read, or names nobody on the roster.
        RequestInvalid: An item names nobody on the roster.
        SpecInvalid: A spec cannot be read, so that no pack can be made of it.
    """
    roster = [
        one for one in get_context().ledger.students.of_class(group.id) if not one.withdrawn_at
    ]
    planner = _ItemPlanner(group, body, roster)
    placed = sorted(
        _item_requests(body, roster), key=lambda pair: pair[1].position if pair[1] else -1
    )
    with get_context().drawing_limit.slot():
        items = [
            planner.plan(position, request, student)
            for position, (request, student) in enumerate(placed)
        ]
    for item in items:
        if isinstance(item.error, SpecInvalid | TableUnreadable):
            raise item.error
    return items


def _item_requests(
    body: dict[str, Any], roster: list[StudentRow]
) -> Iterator[tuple[ItemRequest, StudentRow | None]]:
    """Each item that the request names, with the student it is for."""
    if body["table"] is not None:
        asked = read_item_requests(body["table"])
        _check_count(len(asked))
        for request in asked:
            _check_row(request)
    elif body["items"] is not None:
        asked = tuple(map(_ITEMS.to_item_request, body["items"]))
    else:
        asked = tuple(ItemRequest(student=one.id) for one in roster)
    for place, request in enumerate(asked):
        yield request, _student(request, place, roster)


def _check_count(count: int) -> None:
    if not 0 < count <= MAX_ITEMS:
        raise TableUnreadable(f"The table has {count} lines; a batch has 1 to {MAX_ITEMS}.")


def _check_row(request: ItemRequest) -> None:
    """Check a row of a table by the same rules as an item in JSON.

    Raises:
        TableUnreadable: A title or a note is too long, or a photo's id is malformed.
    """
    given = {name: getattr(request, name) for name in _ITEMS.fields if name in request.cells}
    for name, sentences in _ITEMS.validate(given).items():
        cell = request.cell_of(str(name))
        if cell is not None:
            raise cell.refused(" ".join(sentences))


def _student(request: ItemRequest, place: int, roster: list[StudentRow]) -> StudentRow | None:
    """The student that an item names: by id, or by a name that only one on the roster has.

    Names are compared as loosely as when students join. The closest spelling decides: where
    the roster has both, `Müller, Jürgen` is not `Müller Jürgen`.
    """
    if not request.student:
        return None
    meant = meant_by(request.student, roster)
    if len(meant) == 1:
        return meant[0]
    why = _several(meant) if meant else f"Nobody on the roster is called {request.student}."
    cell = request.cell_of("student")
    if cell is not None:
        raise cell.refused(why)
    raise request_invalid({f"items.{place}.student": [why]})


def meant_by(written: str, roster: list[StudentRow]) -> list[StudentRow]:
    """The students with the id or the closest name to what is written: none, one or more."""
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
    """The error's text where a name fits several students."""
    known = ", ".join(f"{one.name} (place {one.position + 1}, id {one.id})" for one in meant)
    return f"Several on the roster can be meant: {known}. Write the id in place of the name."


@dataclass(eq=False)
class _ItemPlanner:
    """Plans items; items with equal photo and spec share one plan."""

    group: ClassRow
    body: dict[str, Any]
    roster: list[StudentRow]
    _plans: dict[tuple[str, str], tuple[Spec, Plan] | RicalcoError] = field(default_factory=dict)
    _held: dict[str, Holding] = field(init=False)

    def __post_init__(self) -> None:
        self._held = get_context().ledger.holdings.of_class(self.group.id)

    def plan(self, position: int, request: ItemRequest, student: StudentRow | None) -> PlannedItem:
        """Plan one item."""
        asked = self._asked(request, student)
        title = request.title if request.title is not None else self.body["title"]
        if request.title is None and asked and asked.title:
            title = asked.title
        note = request.note if request.note is not None else self.body["note"]
        item = PlannedItem(position=position, student=student, title=title, note=note)
        try:
            wanted = asked.reference_id if asked else self._reference_id(request, student)
            reference_id = _usable_reference(wanted, student)
            spec, plan = self._planned(reference_id, request, asked)
        except RicalcoError as error:
            return replace(item, error=_located(request, error))
        return replace(item, reference_id=reference_id, spec=spec, plan=plan)

    def _asked(self, request: ItemRequest, student: StudentRow | None) -> PackRow | None:
        """The pack that the student asked for, where the batch takes such packs over."""
        if not self.body["as_asked"] or request.reference_id or student is None:
            return None
        return self._held.get(student.id, Holding()).asked

    def _reference_id(self, request: ItemRequest, student: StudentRow | None) -> str:
        """The id of the item's photo, else the batch's, else the student's newest."""
        wanted = request.reference_id or self.body["reference_id"]
        if wanted is None and student is not None:
            photos = self._held.get(student.id, Holding()).references
            wanted = photos[0].id if photos else None
        if wanted is None:
            raise NotFound("There is no photo yet.", field="reference_id")
        return str(wanted)

    def _planned(
        self, reference_id: str, request: ItemRequest, asked: PackRow | None
    ) -> tuple[Spec, Plan]:
        defaults = {"language": asked_language(), **self.group.settings.defaults}
        shared = start_from(defaults, _refitted(self.body["spec"], request.spec))
        if asked:
            shared = start_from(shared, _taken_over(asked.spec, request.spec))
        whole = start_from(shared, request.spec)
        known = (reference_id, json.dumps(whole, sort_keys=True))
        if known not in self._plans:
            self._plans[known] = _plan(reference_id, whole)
        found = self._plans[known]
        if isinstance(found, RicalcoError):
            raise found
        return found


def _located(request: ItemRequest, error: RicalcoError) -> RicalcoError:
    """The error with line, column and value where a cell of a table is at fault."""
    if isinstance(error, SpecInvalid):
        found = ((request.cell_of(path), sentences) for path, sentences in error.fields.items())
        return next((cell.refused(" ".join(why)) for cell, why in found if cell), error)
    cell = request.cell_of(error.field)
    if cell is None:
        return error
    refused = cell.refused(error.detail)
    if isinstance(error, NotFound | FormatUnknown):
        return refused
    # A value that is right in itself leaves out this item only, as it does in JSON.
    located = copy(error)
    located.detail = refused.detail
    return located


def _usable_reference(reference_id: str, student: StudentRow | None) -> str:
    """The photo's id, if the item's owner may have a pack of it; `enqueue` checks that again."""
    owner = student.id if student else owner_id()
    ledger = get_context().ledger
    return ledger.reference_for_pack(reference_id, asker_id=owner_id(), owner_id=owner).id


def _taken_over(asked: Json, request: Json) -> Json:
    """What a batch takes over of a student's pack; not its crop where the item has a support."""
    taken = {name: asked[name] for name in _ASKED if name in asked}
    taken["print"] = {"mirror": asked["print"]["mirror"]}
    if "support" in request:
        taken.pop("crop", None)
        taken["seams"] = {**taken["seams"], "protect": []}
    return taken


def _refitted(shared: Json, request: Json) -> Json:
    """What the batch says of the framing, for an item with a support of its own.

    A crop has the proportions of the support that it was framed for, so only its centre is kept,
    unless the item frames itself.
    """
    crop = shared.get("crop") or {}
    if "support" not in request or "crop" in request or "width" not in crop:
        return shared
    centre = [crop["left"] + crop["width"] / 2, crop["top"] + crop["height"] / 2]
    seams = {**shared.get("seams", {}), "protect": []}
    return {**shared, "crop": {"focus": centre}, "seams": seams}


def _plan(reference_id: str, whole: dict[str, Any]) -> tuple[Spec, Plan] | RicalcoError:
    try:
        spec = load_spec(whole)
        return spec, plan_for(reference_id, spec)[1]
    except RicalcoError as error:
        return error
