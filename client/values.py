"""What the service tells, as values; `document` keeps the answer as it came."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, Self

from client.errors import AnswerUnreadable

JsonObject = dict[str, Any]

#: States in which nothing more will happen to a pack.
ENDED = frozenset({"ready", "failed", "cancelled"})


@dataclass(frozen=True, kw_only=True)
class Reference:
    """The photo, as the service took it in.

    `squared_from` is the photo whose corners it was made from, where it was.
    """

    id: str
    width_px: int
    height_px: int
    format: str
    squared_from: str | None = None
    document: JsonObject = field(repr=False)

    @classmethod
    def read(cls, document: JsonObject) -> Self:
        """The reference that a JSON answer describes.

        Raises:
            AnswerUnreadable: When a field is missing.
        """
        with describing("reference"):
            return cls(
                id=str(document["id"]),
                width_px=int(document["width_px"]),
                height_px=int(document["height_px"]),
                format=str(document["format"]),
                squared_from=document.get("squared_from"),
                document=document,
            )


@dataclass(frozen=True, kw_only=True)
class Progress:
    """Pieces done of pieces to do, and the step that is under way."""

    done: int
    total: int
    step: str


@dataclass(frozen=True, kw_only=True)
class Pack:
    """A pack as it stands: `state` is queued, making, ready, failed or cancelled."""

    id: str
    state: str
    progress: Progress
    document: JsonObject = field(repr=False)

    @classmethod
    def read(cls, document: JsonObject) -> Self:
        """The pack that a JSON answer describes.

        Raises:
            AnswerUnreadable: When a field is missing.
        """
        with describing("pack"):
            told = document.get("progress") or {}
            progress = Progress(
                done=int(told.get("done") or 0),
                total=int(told.get("total") or 0),
                step=str(told.get("step") or ""),
            )
            return cls(
                id=str(document["id"]),
                state=str(document["state"]),
                progress=progress,
                document=document,
            )

    @property
    def ended(self) -> bool:
        """Whether nothing more will happen to it."""
        return self.state in ENDED

    @property
    def links(self) -> dict[str, str]:
        """Addresses that belong to the pack, by name."""
        return dict(self.document.get("links") or {})

    @property
    def plan(self) -> JsonObject | None:
        """The plan, where the answer carried it."""
        return self.document.get("plan")


@dataclass(frozen=True, kw_only=True)
class Batch:
    """A batch as it stands: `state` is making, ready, failed or cancelled.

    Attributes:
        counts: How many of its lines are in which state; `missing` have no pack.
        sheet_formats: What there are print runs for.
    """

    id: str
    state: str
    counts: dict[str, int]
    sheet_formats: tuple[str, ...]
    document: JsonObject = field(repr=False)

    @classmethod
    def read(cls, document: JsonObject) -> Self:
        """The batch that a JSON answer describes.

        Raises:
            AnswerUnreadable: When a field is missing.
        """
        with describing("batch"):
            return cls(
                id=str(document["id"]),
                state=str(document["state"]),
                counts={str(name): int(count) for name, count in document["counts"].items()},
                sheet_formats=tuple(str(run["sheet_format"]) for run in document["print_runs"]),
                document=document,
            )


@dataclass(frozen=True, kw_only=True)
class Printer:
    """A printer that was measured.

    Attributes:
        sheet_format: The PWG 5101.1 name of what it was measured with.
        margin_mm: What it cannot print, by edge; None: nobody looked.
    """

    id: str
    name: str
    sheet_format: str
    across_correction: float
    down_correction: float
    margin_mm: dict[str, float] | None
    document: JsonObject = field(repr=False)

    @classmethod
    def read(cls, document: JsonObject) -> Self:
        """The printer that a JSON answer describes.

        Raises:
            AnswerUnreadable: When a field is missing.
        """
        with describing("printer"):
            margins = document["margin_mm"]
            return cls(
                id=str(document["id"]),
                name=str(document["name"]),
                sheet_format=str(document["format"]),
                across_correction=float(document["across_correction"]),
                down_correction=float(document["down_correction"]),
                margin_mm=margins and {edge: float(wide) for edge, wide in margins.items()},
                document=document,
            )

    @property
    def spec(self) -> JsonObject:
        """What it adds to a spec: the sheet, its margins, the corrections and the name."""
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
def describing(what: str) -> Iterator[None]:
    """Tell of whatever the block misses in an answer that it does not describe a `what`.

    Raises:
        AnswerUnreadable: A field is missing, or is not what it should be.
    """
    try:
        yield
    except (AttributeError, KeyError, TypeError, ValueError) as error:
        raise unreadable(what, error) from error


def unreadable(what: str, error: Exception) -> AnswerUnreadable:
    """The error that an answer which should describe `what` does not."""
    return AnswerUnreadable(
        f"The answer describes no {what} ({error}): is this the address of a Ricalco service?"
    )
