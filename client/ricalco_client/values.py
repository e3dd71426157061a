"""Answers of the service as values; `document` is the whole answer."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Self

from .errors import AnswerUnreadable

JsonObject = dict[str, Any]

#: The longest life of a link, in s.
LONGEST_S = 15 * 60
#: The final states of a pack.
ENDED = frozenset({"ready", "failed", "cancelled"})


class _Described:
    """A value that an answer describes."""

    @classmethod
    def read(cls, document: JsonObject) -> Self:
        """The value that a JSON answer describes.

        Raises:
            AnswerUnreadable: A field is missing, or is not what it should be.
        """
        with expecting(cls.__name__.lower()):
            return cls(**cls._fields(document))

    @classmethod
    def _fields(cls, document: JsonObject) -> JsonObject:
        """The value's attributes, of whatever may be missing or wrong in the answer."""
        raise NotImplementedError


@dataclass(frozen=True, kw_only=True)
class Reference(_Described):
    """A reference photo that the service has.

    Attributes:
        squared_from: Id of the photo that it was squared up from, or None.
    """

    id: str
    width_px: int
    height_px: int
    format: str
    squared_from: str | None = None
    document: JsonObject = field(repr=False)

    @classmethod
    def _fields(cls, document: JsonObject) -> JsonObject:
        return {
            "id": str(document["id"]),
            "width_px": int(document["width_px"]),
            "height_px": int(document["height_px"]),
            "format": str(document["format"]),
            "squared_from": document.get("squared_from"),
            "document": document,
        }


@dataclass(frozen=True, kw_only=True)
class WebhookEvent:
    """What a webhook was told.

    Attributes:
        message_id: The same whenever it is sent: what comes twice is known by it.
        type: `pack.ready`, `pack.failed`, `batch.done` or `student.joined`.
        id: Of the pack, the batch or the student.
        at: When it happened.
    """

    message_id: str
    type: str
    id: str
    at: datetime
    document: JsonObject = field(repr=False)


@dataclass(frozen=True, kw_only=True)
class Progress:
    """Pieces done of pieces in all, and the current step."""

    done: int
    total: int
    step: str


@dataclass(frozen=True, kw_only=True)
class Pack(_Described):
    """A pack: `state` is queued, making, ready, failed or cancelled."""

    id: str
    state: str
    progress: Progress
    document: JsonObject = field(repr=False)

    @classmethod
    def _fields(cls, document: JsonObject) -> JsonObject:
        given = document.get("progress") or {}
        progress = Progress(
            done=int(given.get("done") or 0),
            total=int(given.get("total") or 0),
            step=str(given.get("step") or ""),
        )
        return {
            "id": str(document["id"]),
            "state": str(document["state"]),
            "progress": progress,
            "document": document,
        }

    @property
    def ended(self) -> bool:
        """Whether its state is final."""
        return self.state in ENDED

    @property
    def links(self) -> dict[str, str]:
        """Paths of the pack's files, by name."""
        return dict(self.document.get("links") or {})

    @property
    def plan(self) -> JsonObject | None:
        """The plan, if it is in the answer."""
        return self.document.get("plan")


@dataclass(frozen=True, kw_only=True)
class Batch(_Described):
    """A batch: `state` is making, ready, failed or cancelled.

    Attributes:
        counts: The number of its lines by state; `missing` have no pack.
        sheet_formats: Names of the sheet formats that have a print run.
    """

    id: str
    state: str
    counts: dict[str, int]
    sheet_formats: tuple[str, ...]
    document: JsonObject = field(repr=False)

    @classmethod
    def _fields(cls, document: JsonObject) -> JsonObject:
        return {
            "id": str(document["id"]),
            "state": str(document["state"]),
            "counts": {str(name): int(count) for name, count in document["counts"].items()},
            "sheet_formats": tuple(str(run["sheet_format"]) for run in document["print_runs"]),
            "document": document,
        }


@dataclass(frozen=True, kw_only=True)
class Link(_Described):
    """A link to one file; whoever has its `url` can fetch the file without a key.

    Attributes:
        url: Its address, whose query is a secret: it belongs in no log.
        file: The file's path below its pack or batch.
        ends_at: Until when it opens, with its zone.
    """

    url: str = field(repr=False)
    file: str
    ends_at: datetime

    @classmethod
    def _fields(cls, document: JsonObject) -> JsonObject:
        return {
            "url": str(document["url"]),
            "file": str(document["file"]),
            "ends_at": datetime.fromisoformat(document["ends_at"]),
        }


@dataclass(frozen=True, kw_only=True)
class Printer(_Described):
    """A printer that was measured.

    Attributes:
        sheet_format: PWG 5101.1 name of the sheet that it was measured with.
        margin_mm: Unprintable margin by edge; None: not measured.
    """

    id: str
    name: str
    sheet_format: str
    across_correction: float
    down_correction: float
    margin_mm: dict[str, float] | None
    document: JsonObject = field(repr=False)

    @classmethod
    def _fields(cls, document: JsonObject) -> JsonObject:
        margins = document["margin_mm"]
        return {
            "id": str(document["id"]),
            "name": str(document["name"]),
            "sheet_format": str(document["format"]),
            "across_correction": float(document["across_correction"]),
            "down_correction": float(document["down_correction"]),
            "margin_mm": margins and {edge: float(wide) for edge, wide in margins.items()},
            "document": document,
        }

    @property
    def spec(self) -> JsonObject:
        """Its part of a spec: sheet format, margins, corrections and name."""
        sheet: JsonObject = {"format": self.sheet_format}
        if self.margin_mm is not None:
            sheet["margin_mm"] = self.margin_mm
        corrected = {
            "across_correction": self.across_correction,
            "down_correction": self.down_correction,
            "printer": self.name,
        }
        return {"sheet": sheet, "print": corrected}


@contextmanager
def expecting(what: str) -> Iterator[None]:
    """Turn errors of reading an answer into one error: the answer describes no `what`.

    Raises:
        AnswerUnreadable: A field is missing, or is not what it should be.
    """
    try:
        yield
    except (AttributeError, KeyError, TypeError, ValueError) as error:
        raise unreadable(what, error) from error


def items_of(document: JsonObject) -> list[JsonObject]:
    """The items of a list, or of a page of it.

    Raises:
        AnswerUnreadable: It is no list.
    """
    with expecting("list"):
        return [dict(item) for item in document["items"]]


def unreadable(what: str, error: Exception) -> AnswerUnreadable:
    """The error for an answer that does not describe `what`."""
    return AnswerUnreadable(
        f"The answer describes no {what} ({error}): is this the address of a Ricalco service?"
    )
