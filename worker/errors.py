"""Every error that Ricalco raises on purpose, with its stable code.

    RicalcoError
    ├── PhotoError ........ the photo cannot be used
    │   ├── ReferenceEmpty            reference-empty
    │   ├── ReferenceType             reference-type
    │   ├── ReferenceDamaged          reference-damaged
    │   ├── ReferenceTooManyPixels    reference-too-many-pixels
    │   ├── ReferenceTooLarge         reference-too-large
    │   ├── ReferenceTooSmall         reference-too-small
    │   ├── ReferenceTooComplex       reference-too-complex
    │   └── ReferenceTooSlow          reference-too-slow
    ├── SpecError .............. the job cannot be done as asked
    │   ├── SpecInvalid               spec-invalid
    │   ├── SizeUnreadable            size-unreadable
    │   ├── FormatUnknown             sheet-format-unknown
    │   ├── UsableAreaTooSmall        usable-area-too-small
    │   ├── PictureTooSmall           picture-too-small
    │   ├── TooManySheets             too-many-sheets
    │   ├── CropOutside               crop-outside
    │   ├── CropProportions           crop-proportions
    │   ├── CornersUnusable           corners-unusable
    │   └── SpecFixed                 spec-fixed
    ├── ReadingError ........... what was read off a test page cannot be used
    │   ├── PageFitting               page-fitting
    │   └── ReadingImplausible        reading-implausible
    ├── StateError ............. what was asked for is not there, or not now
    │   ├── NotFound                  not-found
    │   ├── NotReady                  pack-not-ready
    │   ├── KeyReused                 idempotency-key-reused
    │   ├── KeyInProgress             idempotency-key-in-progress
    │   ├── TutorExists               tutor-exists
    │   ├── ClassClosed               class-closed
    │   ├── JoiningClosed             joining-closed
    │   ├── NotOnRoster               not-on-roster
    │   ├── NameTaken                 name-taken
    │   ├── RosterFull                roster-full
    │   ├── RosterChanged             roster-changed
    │   ├── LimitReached              limit-reached
    │   ├── WebhookDisabled           webhook-disabled
    │   └── TooManyUnfinished         too-many-unfinished
    ├── PapersError ............ a class's papers cannot be used
    │   └── TableUnreadable           table-unreadable
    ├── MakingError ............ a pack ended without its files
    │   ├── Cancelled                 cancelled
    │   ├── GaveUp                    gave-up
    │   ├── ReferenceGone             reference-gone
    │   ├── FilesMissing              files-missing
    │   ├── PlanOutdated              plan-outdated
    │   │   └── PlanNewer             its code is plan-outdated too
    │   └── TooSlow                   too-slow
    └── SetupError ............. this machine is not ready
        ├── SettingInvalid            setting-invalid
        ├── FolderNotWritable         folder-not-writable
        ├── PortTaken                 port-taken
        ├── NoNetwork                 no-network
        ├── PlatformUnreachable       platform-unreachable
        ├── StorageFull               storage-full
        ├── StorageUnavailable        storage-unavailable
        ├── LedgerUnavailable         ledger-unavailable
        │   └── OutcomeUnknown        its code is ledger-unavailable too
        ├── LedgerDamaged             ledger-damaged
        ├── LedgerOutdated            ledger-outdated
        ├── BrokerUnavailable         broker-unavailable
        ├── NoWorker                  no-worker
        └── ClockDiffers              clock-differs

Only the standard library is imported here. HTTP status codes are assigned by the service.
"""

from __future__ import annotations


class RicalcoError(Exception):
    """An error that a person can understand and correct.

    Attributes:
        code: Stable name of the kind of error, in kebab case.
        detail: One or two sentences: what is wrong and what to do.
        field: Dotted path of the field at fault (`support.width_mm`), or None.
    """

    code = "error"

    def __init__(self, detail: str, *, field: str | None = None) -> None:
        super().__init__(detail)
        self.detail = detail
        self.field = field


class PhotoError(RicalcoError):
    """The photo cannot be used."""


class ReferenceEmpty(PhotoError):
    """Nothing was sent, or a file of no bytes."""

    code = "reference-empty"


class ReferenceType(PhotoError):
    """The content is no picture of a kind that is read here."""

    code = "reference-type"


class ReferenceDamaged(PhotoError):
    """The picture breaks off or contradicts itself.

    Attributes:
        readable_share: About how much of it could be read, above 0 and below 1; None when
            nothing could. Only what could be read can be taken as it is.
    """

    code = "reference-damaged"

    def __init__(
        self, detail: str, *, readable_share: float | None = None, field: str | None = None
    ) -> None:
        super().__init__(detail, field=field)
        self.readable_share = readable_share


class ReferenceTooManyPixels(PhotoError):
    """More pixels than this machine accepts."""

    code = "reference-too-many-pixels"


class ReferenceTooLarge(PhotoError):
    """More bytes than this machine accepts."""

    code = "reference-too-large"


class ReferenceTooSmall(PhotoError):
    """Too few pixels to draw anything from."""

    code = "reference-too-small"


class ReferenceTooComplex(PhotoError):
    """Built of more parts, or asks for more memory, than any photo needs."""

    code = "reference-too-complex"


class ReferenceTooSlow(PhotoError):
    """Reading it took longer than any photo should."""

    code = "reference-too-slow"


class SpecError(RicalcoError):
    """The job cannot be done as asked."""


class SpecInvalid(SpecError):
    """A field is missing, unknown, of the wrong type or out of range.

    Attributes:
        fields: Dotted field paths with what is wrong with each.
    """

    code = "spec-invalid"

    def __init__(
        self, detail: str, *, fields: dict[str, list[str]], field: str | None = None
    ) -> None:
        super().__init__(detail, field=field)
        self.fields = fields


class SizeUnreadable(SpecError):
    """A size was written in a way that is not understood."""

    code = "size-unreadable"


class FormatUnknown(SpecError):
    """No sheet format or support of this name is known."""

    code = "sheet-format-unknown"


class UsableAreaTooSmall(SpecError):
    """Margins and slug leave too little of the sheet to print on."""

    code = "usable-area-too-small"


class PictureTooSmall(SpecError):
    """The border leaves too little of the support to draw on."""

    code = "picture-too-small"


class TooManySheets(SpecError):
    """The picture would need more sheets than one pack may have."""

    code = "too-many-sheets"


class CropOutside(SpecError):
    """The crop reaches beyond the reference."""

    code = "crop-outside"


class CropProportions(SpecError):
    """The crop's proportions are not the picture's."""

    code = "crop-proportions"


class CornersUnusable(SpecError):
    """Four corners in a photo, with the proportion given, are no picture seen from anywhere."""

    code = "corners-unusable"


class SpecFixed(SpecError):
    """The class's tutor has settled a field that the spec would change."""

    code = "spec-fixed"


class ReadingError(RicalcoError):
    """What was read off a test page cannot be used."""


class PageFitting(ReadingError):
    """The page was printed scaled: that is switched off, and not compensated."""

    code = "page-fitting"


class ReadingImplausible(ReadingError):
    """No printer does this: another unit, another bar, or a slip."""

    code = "reading-implausible"


class StateError(RicalcoError):
    """What was asked for is not there, or not now."""


class NotFound(StateError):
    """No such thing, or not yours."""

    code = "not-found"


class NotReady(StateError):
    """The pack is not made yet, or never will be."""

    code = "pack-not-ready"


class KeyReused(StateError):
    """An idempotency key came again with another request."""

    code = "idempotency-key-reused"


class KeyInProgress(StateError):
    """The first request with this idempotency key is still under way."""

    code = "idempotency-key-in-progress"


class PapersError(RicalcoError):
    """A class's papers cannot be used."""


class TableUnreadable(PapersError):
    """A roster or another table cannot be read as it is.

    Attributes:
        line: The line at fault, from 1; None where it is the whole.
    """

    code = "table-unreadable"

    def __init__(self, detail: str, *, line: int | None = None, field: str | None = None) -> None:
        super().__init__(detail, field=field)
        self.line = line


class TutorExists(StateError):
    """Only the first tutor is made without a key."""

    code = "tutor-exists"


class ClassClosed(StateError):
    """The class is over: its students send and ask for nothing more."""

    code = "class-closed"


class JoiningClosed(StateError):
    """The class's tutor lets nobody join now."""

    code = "joining-closed"


class NotOnRoster(StateError):
    """The roster has no such name, and the tutor lets no others join."""

    code = "not-on-roster"


class NameTaken(StateError):
    """Someone has joined under this name already."""

    code = "name-taken"


class RosterFull(StateError):
    """A class has room for no more students."""

    code = "roster-full"


class RosterChanged(StateError):
    """The roster is not the one that somebody saw when they put it in order."""

    code = "roster-changed"


class LimitReached(StateError):
    """A student has as much as their class allows."""

    code = "limit-reached"


class WebhookDisabled(StateError):
    """Nothing is sent to a webhook: it was disabled."""

    code = "webhook-disabled"


class TooManyUnfinished(StateError):
    """Too many packs of one person wait already."""

    code = "too-many-unfinished"


class MakingError(RicalcoError):
    """A pack ended without its files."""


class Cancelled(MakingError):
    """Someone cancelled the pack while it was being made."""

    code = "cancelled"


class GaveUp(MakingError):
    """Every attempt that is allowed failed."""

    code = "gave-up"


class ReferenceGone(MakingError):
    """The reference was deleted before its pack was made, or its files are gone."""

    code = "reference-gone"


class FilesMissing(MakingError):
    """The pack was made, and its files are gone from where they are kept."""

    code = "files-missing"


class PlanOutdated(MakingError):
    """The plan that was stored is none that this version can draw."""

    code = "plan-outdated"


class PlanNewer(PlanOutdated):
    """A newer version planned it: while a service is updated, its other parts can draw it."""


class TooSlow(MakingError):
    """Making took longer than the time limit."""

    code = "too-slow"


class SetupError(RicalcoError):
    """This machine is not ready."""


class SettingInvalid(SetupError):
    """A setting has a value that cannot be used."""

    code = "setting-invalid"


class FolderNotWritable(SetupError):
    """The data folder cannot be made or written."""

    code = "folder-not-writable"


class PortTaken(SetupError):
    """Another program listens on the port."""

    code = "port-taken"


class NoNetwork(SetupError):
    """The machine is in no network that others could reach it by."""

    code = "no-network"


class PlatformUnreachable(SetupError):
    """A learning platform does not answer, or may not be asked at its address."""

    code = "platform-unreachable"


class StorageFull(SetupError):
    """The disk or the quota is full."""

    code = "storage-full"


class StorageUnavailable(SetupError):
    """Where files are kept cannot be reached, or does not answer as it should."""

    code = "storage-unavailable"


class LedgerUnavailable(SetupError):
    """The ledger cannot be reached or is locked."""

    code = "ledger-unavailable"


class OutcomeUnknown(LedgerUnavailable):
    """The ledger went away in answering a commit: the change may have been made or not.

    Whoever meets this undoes nothing, least of all files that the change may name.
    """


class LedgerDamaged(SetupError):
    """The ledger's content contradicts itself: bytes of its file were lost or overwritten."""

    code = "ledger-damaged"


class LedgerOutdated(SetupError):
    """The ledger lacks migrations of this version: an older copy of it was put back."""

    code = "ledger-outdated"


class BrokerUnavailable(SetupError):
    """The message broker cannot be reached."""

    code = "broker-unavailable"


class NoWorker(SetupError):
    """No worker was seen lately."""

    code = "no-worker"


class ClockDiffers(SetupError):
    """This machine's clock and the ledger's differ."""

    code = "clock-differs"
