"""The guide's section on transfer paper, and on what does its work where it does not serve.

Which paper suits which support, wiping it, trying it on a scrap, a light box for thin paper, and
chalk or graphite on the back of the sheets are common practice in studios.
"""

from __future__ import annotations

from worker.pages.pack_content import PackContent
from worker.pages.section import Section, section

#: What a light box or a window takes: A2 (common practice).
_WINDOW_MM = (420.0, 594.0)
#: A support's size may miss that of its format by what paper does.
_SLACK_MM = 6.0


def transfer_paper(pack: PackContent) -> Section:
    """Which paper, how it is prepared, and what else would do."""
    words, tone = pack.words, pack.spec.support.tone
    painted = tone == "light" and pack.spec.support.medium == "paint"
    steps = (
        words("guide.paper.light-paint" if painted else f"guide.paper.{tone}"),
        words("guide.paper.wipe"),
        words("guide.paper.scrap"),
        words("guide.paper.slide"),
    )
    chalk = (words("guide.paper.sanded"),) if pack.spec.support.medium == "pastel" else ()
    return section(words("guide.section.transfer"), steps, *chalk, extras=_instead(pack))


def _instead(pack: PackContent) -> tuple[str, ...]:
    """What would do without transfer paper."""
    words, support = pack.words, pack.spec.support
    # Pastel's note says so already, since sanded and velour papers need it.
    rub = () if support.medium == "pastel" else (words(f"guide.paper.rub-{support.tone}"),)
    return (*rub, words("guide.paper.window")) if _shines_through(pack) else rub


def _shines_through(pack: PackContent) -> bool:
    """Whether the support may be thin and light paper, no larger than a light box takes."""
    support = pack.spec.support
    sides = sorted((support.width_mm, support.height_mm))
    small = all(side <= most + _SLACK_MM for side, most in zip(sides, _WINDOW_MM, strict=True))
    return small and support.tone == "light" and support.medium not in {"pastel", "paint"}
