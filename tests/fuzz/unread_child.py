"""The process that takes photos in, without the reading of what was taken in."""

from __future__ import annotations

from worker.reference.isolated import child
from worker.spec.reading import NOTHING_READ


def _answer_unread(*arguments: object) -> object:
    from worker.reference import write_reference  # noqa: PLC0415 - loaded after the limits are set.

    write_reference.read_picture = lambda *_, **__: NOTHING_READ
    return _ANSWER(*arguments)


_ANSWER = child._answer

if __name__ == "__main__":
    child._answer = _answer_unread
    child.main()
