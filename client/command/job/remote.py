"""The same job through a service: the photo goes there, the files come back."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from client.api import Ricalco
from client.command.job.corner_options import Squaring
from client.command.progress import Report
from client.errors import ClientError
from client.values import Pack

#: Where `ricalco serve` listens when nothing else is set.
USUAL_SERVICE = "http://127.0.0.1:8640"


@contextmanager
def uploaded(
    ricalco: Ricalco,
    photo: Path,
    *,
    keep: bool,
    squaring: Squaring | None = None,
    accept_damaged: bool = False,
) -> Iterator[str]:
    """Id of the photo on the service, or of what it is squared up to.

    Unless it is to be kept, it is deleted there at the end, together with all made from it:
    a photo that nobody asked to leave behind is not left behind.
    """
    reference = ricalco.references.upload(photo, accept_damaged=accept_damaged)
    done = False
    try:
        yield _squared(ricalco, reference.id, squaring)
        done = True
    finally:
        if not (done and keep):
            # What went wrong before matters more than a photo that could not be deleted.
            with suppress(ClientError):
                ricalco.references.delete(reference.id)


def _squared(ricalco: Ricalco, reference_id: str, squaring: Squaring | None) -> str:
    if squaring is None:
        return reference_id
    return ricalco.references.square_up(
        reference_id, squaring.corners, proportion=squaring.proportion
    ).id


def wait(ricalco: Ricalco, pack: Pack, report: Report) -> Pack:
    """Wait for a pack, and report how far it is."""

    def tell(now: Pack) -> None:
        report(now.progress.done, now.progress.total, now.progress.step or now.state)

    return ricalco.packs.wait(pack.id, progress=tell)
