"""In which strips the picture is transferred, and whether it goes on a wall."""

from __future__ import annotations

from collections import defaultdict

from worker.spec.plan import Pass, Piece, Size

#: Beyond this a picture is no longer laid on a table and hinged: across it is further than an
#: arm reaches from both sides, along it more than two people lift as one (common practice).
_WALL_ACROSS_MM, _WALL_ALONG_MM = 1200.0, 2500.0


def on_wall(picture: Size) -> bool:
    """Whether the picture is worked on upright, strip by strip, instead of on a table."""
    across, along = sorted((picture.width_mm, picture.height_mm))
    return across > _WALL_ACROSS_MM or along > _WALL_ALONG_MM


def passes(
    pieces: tuple[Piece, ...],
    *,
    face_down: bool = False,
    from_top: bool = False,
    columns: bool = False,
) -> tuple[Pass, ...]:
    """The order of transfer: strip by strip, as the transfer paper is laid anew.

    On a table the enlargement is hinged at its top, and strips run from its free edge towards
    the hinge; on a wall from the top down, so that nothing falls on what is done (both common
    practice).

    Args:
        pieces: Of the plan.
        face_down: The last column is then at the left.
        from_top: Begin with the first row.
        columns: The strips are columns, from left to right.
    """
    side = -1 if face_down else 1
    strips: dict[int, list[Piece]] = defaultdict(list)
    for piece in pieces:
        strips[side * piece.column if columns else piece.row].append(piece)
    ordered = sorted(strips.items(), reverse=not (from_top or columns))
    return tuple(
        Pass(
            number=number,
            labels=tuple(
                piece.label
                for piece in sorted(strip, key=lambda piece: (piece.row, side * piece.column))
            ),
        )
        for number, (_, strip) in enumerate(ordered, start=1)
    )
