"""What the guide says about the support: hinge, transfer, trace, take care.

Sources: hinge, transfer papers, pressure and the order of passes are common practice in
studios; the width of the pen is of ISO 9175-1.
"""

from __future__ import annotations

from worker.drawing.frame import Job
from worker.drawing.guide_steps import Section, section
from worker.drawing.measures import label_list, measures_for

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


def second_page(job: Job) -> tuple[Section, ...]:
    """From one sheet of paper to the drawing."""
    return (
        section("Hinge", _hinge(job)),
        section("Transfer", _transfer_paper(job)),
        section("Trace", _trace(job)),
        section("Take care", (), *_CARE),
    )


def _hinge(job: Job) -> tuple[str, ...]:
    support, say = job.spec.support, measures_for(job.spec.sheet.format)
    size = say.size(support.width_mm, support.height_mm)
    steps = [
        (
            f"Measure the support: it should be **{size}**. Paper and board are often a millimetre "
            "or two off; share out the difference, or make the pack for the size you measured."
        ),
    ]
    if support.border_mm:
        steps.append(
            f"Lay the enlargement **{say.length(support.border_mm)}** from every edge of the "
            "support; mark its corners lightly."
        )
    else:
        steps.append("Lay the enlargement flush with the edges of the support.")
    face = "face down " if job.spec.print.mirror else ""
    steps.append(
        f"Tape **one edge only**, {face}with low-tack tape, best the top one: it becomes a hinge, "
        "and the enlargement always falls back into its place."
    )
    return tuple(steps)


def _transfer_paper(job: Job) -> tuple[str, ...]:
    if job.spec.print.mirror:
        return (
            (
                "This pack is **mirrored**, for a method that transfers **face down**: the printed "
                "side touches the support, and the drawing comes out the right way round. For "
                "tracing through transfer paper make the pack without mirroring."
            ),
            "Keep to the instructions of the method and its product sheet; try a corner first.",
        )
    paper = {
        "light": "For a light support: **graphite transfer paper**, wax-free, so that lines can be "
        "rubbed out and paint takes over them.",
        "mid": "For a mid-toned support: **white or graphite transfer paper**, wax-free; try both "
        "on a scrap and take the one that stands out.",
        "dark": "For a dark support: **white (chalk) transfer paper**, wax-free, so that lines can "
        "be dusted off.",
    }[job.spec.support.tone]
    return (
        f"{paper} Slide it under the enlargement, its coated side on the support.",
        "A sheet smaller than the picture is enough: move it along with the passes.",
    )


def _by_style(job: Job) -> tuple[str, ...]:
    """What is traced: of a photograph whatever one sees, of lines and tones what is drawn."""
    style, count = job.spec.tone.style, job.spec.tone.values.count
    if style == "values":
        # On the sheets the lightest tone is bare paper, on a darker support it has to be laid.
        bare = job.spec.support.tone == "light"
        lightest = "" if bare else f", **{count}** too, which the support does not give"
        return (
            (
                "Trace the **borders** between the tones, thin and faint: coloured pencil and thin "
                "paint do not cover them. Number each patch from the key on page 1; **1** is the "
                "darkest."
            ),
            (
                f"Choose or mix the **{count} tones** before you begin and try them beside the key"
                f"{lightest}. Lay the large patches first, the darkest and the lightest last; "
                "squint to compare."
            ),
        )
    if not job.spec.tone.lined:
        return ()
    ground = " The grey tells what a line belongs to; it is not traced." if style == "mixed" else ""
    return (
        (
            "**Heavy lines are the great forms**: trace them first, all of them. Thin ones lie "
            f"inside a form; leave out what you would rather draw by eye.{ground}"
        ),
    )


def _trace(job: Job) -> tuple[str, ...]:
    passes = job.plan.passes
    count = "one pass" if len(passes) == 1 else f"**{len(passes)} passes**"
    order = ", ".join(label_list(turn.labels) for turn in passes[:4])
    more = " …" if len(passes) > 4 else ""  # noqa: PLR2004 - four show the way the order runs.
    pressure = "a hard pencil" if job.spec.print.mirror else "a **0.5 mm pen** or a ballpoint"
    steps = [
        (
            f"Use {pressure}, with **light to medium** pressure: a dent cannot be rubbed out. Try "
            "an outer corner first and lift to see the line."
        ),
    ]
    steps += _by_style(job)
    if len(passes) > 1:
        lies = "as it lies face down, " if job.spec.print.mirror else ""
        steps.append(
            f"Work in {count}, sheet by sheet ({order}{more}): {lies}along each row **from left "
            "to right**, so that a right hand never rests on traced work. Left-handed: from right "
            "to left."
        )
    else:
        steps.append("Work from left to right; left-handed, from right to left.")
    steps.append(
        "Keep a clean slip sheet under the hand. Before you move on, **lift one corner** and look "
        "for what is missing; lift the hinge only at the very end."
    )
    if job.plan.tape_spots and not job.spec.print.mirror and job.spec.tone.style != "values":
        steps.append("Lines under tape: carry them across by eye, from the photo.")
    return tuple(steps)
