"""A whole job at a service: the photo is uploaded, the pack is waited for."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from client.command.job import specs
from client.command.job.corner_options import SquareUpOptions
from client.command.job.specs import Spec
from client.command.progress import Report
from ricalco_client.api import Ricalco
from ricalco_client.errors import ClientError
from ricalco_client.values import Pack

#: Where `ricalco serve` listens when nothing else is set.
DEFAULT_SERVICE = "http://127.0.0.1:8640"


@contextmanager
def uploaded(
    ricalco: Ricalco,
    photo: Path,
    *,
    keep: bool,
    square_up: SquareUpOptions | None = None,
    accept_damaged: bool = False,
) -> Iterator[str]:
    """Upload the photo; yields its id, or the id of the reference squared up from it.

    The service deletes the photo and all that was made from it when the block ends, unless
    `keep` is set and the block raised nothing.
    """
    reference = ricalco.references.upload(photo, accept_damaged=accept_damaged)
    done = False
    try:
        yield _squared(ricalco, reference.id, square_up)
        done = True
    finally:
        if not (done and keep):
            # An error of the block matters more than a photo that could not be deleted.
            with suppress(ClientError):
                ricalco.references.delete(reference.id)


def with_faces(ricalco: Ricalco, reference_id: str, spec: Spec) -> Spec:
    """The spec with what the service's plan offers to protect of faces."""
    return specs.with_faces(spec, ricalco.plan(reference_id, spec))


def _squared(ricalco: Ricalco, reference_id: str, options: SquareUpOptions | None) -> str:
    if options is None:
        return reference_id
    return ricalco.references.square_up(
        reference_id, options.corners, proportion=options.proportion
    ).id


def wait(ricalco: Ricalco, pack: Pack, report: Report) -> Pack:
    """Wait for a pack, and report its progress."""

    def report_progress(now: Pack) -> None:
        report(now.progress.done, now.progress.total, now.progress.step or now.state)

    return ricalco.packs.wait(pack.id, progress=report_progress)
