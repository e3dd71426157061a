"""Guide page 3: what to do on the support (hinge, transfer, trace, take care).

Sources: hinge, transfer papers and pressure are common practice in studios; the width of
the pen is of ISO 9175-1.
"""

from __future__ import annotations

from worker.pages.guide.face_down import prepare, rub
from worker.pages.guide.passes import lay_tones, pass_by_pass
from worker.pages.guide.sections import Section, section
from worker.pages.lengths import measures_for
from worker.pages.pack_content import PackContent

_HINGE = (
    "Tape **one edge only** with low-tack tape, best the top one: it becomes a hinge, and the "
    "enlargement always falls back into its place."
)
_CARE = (
    (
        "**Pastel and charcoal dust**: do not blow; wipe damp, air the room, wear a mask if you "
        "work for long. **Fixative**: outdoors or well aired, away from flames."
    ),
    (
        "Local rules, the product’s safety sheet and those who are trained in the work come "
        "before this guide."
    ),
)


def second_page(pack: PackContent) -> tuple[Section, ...]:
    """From one sheet of paper to the drawing."""
    care = section("Take care", (), *_CARE)
    if pack.spec.print.mirror:
        hinge = section("Hinge", (*_place(pack), f"Lay it **face down**. {_HINGE}"))
        return (
            section("Prepare", prepare(pack)),
            hinge,
            section("Transfer", rub(pack)),
            care,
        )
    return (
        section("Hinge", (*_place(pack), _HINGE)),
        section("Transfer", _transfer_paper(pack)),
        section("Trace", _trace(pack)),
        care,
    )


def _place(pack: PackContent) -> tuple[str, ...]:
    """Where on the support the enlargement is laid."""
    support, say = pack.spec.support, measures_for(pack.spec.sheet.format)
    size = say.size(support.width_mm, support.height_mm)
    measure = (
        f"Measure the support: it should be **{size}**. Paper and board are often a millimetre "
        "or two off; share out the difference, or make the pack for the size you measured."
    )
    if support.border_mm:
        return (
            measure,
            (
                f"Lay the enlargement **{say.length(support.border_mm)}** from every edge of the "
                "support; mark its corners lightly."
            ),
        )
    return (measure, "Lay the enlargement flush with the edges of the support.")


def _transfer_paper(pack: PackContent) -> tuple[str, ...]:
    paper = {
        "light": "For a light support: **graphite transfer paper**, wax-free, so that lines can be "
        "rubbed out and paint takes over them.",
        "mid": "For a mid-toned support: **white or graphite transfer paper**, wax-free; try both "
        "on a scrap and take the one that stands out.",
        "dark": "For a dark support: **white (chalk) transfer paper**, wax-free, so that lines can "
        "be dusted off.",
    }[pack.spec.support.tone]
    return (
        f"{paper} Slide it under the enlargement, its coated side on the support.",
        "A sheet smaller than the picture is enough: move it along as you go.",
    )


def _by_style(pack: PackContent) -> tuple[str, ...]:
    """What is traced: of a photograph whatever one sees, of lines and tones what is drawn."""
    style = pack.spec.tone.style
    if style == "values":
        return (
            (
                "Trace the **borders** between the tones, thin and faint: coloured pencil and thin "
                "paint do not cover them."
            ),
        )
    if not pack.spec.tone.lined:
        return ()
    ground = " The grey tells what a line belongs to; it is not traced." if style == "mixed" else ""
    return (
        (
            "**Heavy lines are the great forms**: trace them first, all of them. Thin ones lie "
            f"inside a form; leave out what you would rather draw by eye.{ground}"
        ),
    )


def _trace(pack: PackContent) -> tuple[str, ...]:
    steps = (
        (
            "Use a **0.5 mm pen** or a ballpoint, with **light to medium** pressure: a dent cannot "
            "be rubbed out. Try an outer corner first and lift to see the line."
        ),
        *_by_style(pack),
        *pass_by_pass(pack),
    )
    if pack.spec.tone.style == "values":
        return (*steps, *lay_tones(pack))
    if pack.plan.tape_spots:
        return (*steps, "Lines under tape: carry them across by eye, from the photo.")
    return steps
