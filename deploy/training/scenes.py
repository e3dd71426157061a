"""Made-up scenes whose contours are known.

No photograph is in them: there is no licence and nobody's likeness to settle. What the reading
should learn is painted here; when it misreads a kind of thing, a thing that teaches it is added.
"""

from __future__ import annotations

import torch
from camera import recorded
from canvas import Canvas, Paint
from fields import Batch
from painted.studies import study
from painted.things import KINDS, MAIN, put
from solids.rendered import focus, render
from solids.solids import Solids
from solids.subjects.arrangements import ARRANGEMENTS
from solids.subjects.faces import paint_people
from studio import Studio
from textures import Bank
from torch import Tensor

SIDE_PX = 320
#: How many batches are of solids, and how many are studies; the others are of painted things.
SOLID, STUDIES = 0.35, 0.45


@torch.no_grad()
def scenes(
    bank: Bank, count: int, device: str, side_px: int = SIDE_PX
) -> tuple[Tensor, Tensor, Tensor]:
    """Paint some scenes.

    Returns:
        Pictures (count, 3, side, side) of 0 to 1; labels and how much they count, as of
        `Canvas.labels`.
    """
    b = Batch(count, side_px, device)
    studio = _studio(b, bank)
    which = float(torch.rand(1))
    if which < SOLID:
        _solids(studio)
    elif which < SOLID + STUDIES:
        study(studio, _things)
    else:
        _painted(studio)
    labels, asked = studio.canvas.labels()
    return recorded(b, studio.canvas.image), labels, asked


def _painted(studio: Studio) -> None:
    """Things from back to front, at times before one that the picture is of."""
    portrait = float(torch.rand(1)) < 0.4
    _things(studio, int(torch.randint(2, 9, (1,)) if portrait else torch.randint(4, 20, (1,))))
    studio.canvas.tells_main = float(portrait)
    if portrait:
        if torch.rand(1) < 0.75:
            studio.canvas.defocus(float(0.8 + 5 * torch.rand(1)))
        _main(studio)
        _things(studio, int(torch.randint(0, 3, (1,))), first=0.6)
    if torch.rand(1) < 0.06:
        _mirrored(studio)


def _solids(s: Studio) -> None:
    """Solid things, before painted ones that are out of focus or not."""
    if torch.rand(1) < 0.7:
        _things(s, int(torch.randint(0, 8, (1,))))
        if torch.rand(1) < 0.6:
            s.canvas.defocus(float(0.8 + 5 * torch.rand(1)))
    weights = torch.tensor([each[1] for each in ARRANGEMENTS])
    arrange = ARRANGEMENTS[int(torch.multinomial(weights, 1))][0]
    solids = Solids(s.b)
    camera = arrange(s, solids)
    s.canvas.main, s.canvas.tells_main = True, 1.0
    far = render(s, solids, camera)
    paint_people(s, solids, camera, far)
    s.canvas.main = False
    if torch.rand(1) < 0.3:
        at = far.flatten(1).quantile(0.3, 1).view(-1, 1, 1)
        focus(s.canvas, far, at, float(1 + 3 * torch.rand(1)))
    if torch.rand(1) < 0.25:
        _things(s, int(torch.randint(1, 3, (1,))), first=0.7)


def _things(s: Studio, number: int, first: float = 0.0) -> None:
    """Some things from back to front, those at the back at times out of focus."""
    weights = torch.tensor([kind[1] for kind in KINDS])
    kinds = torch.multinomial(weights, max(number, 1), replacement=True).tolist()[:number]
    blur_at = int(torch.randint(0, max(number, 1), (1,))) if torch.rand(1) < 0.35 else -1
    for at, kind in enumerate(kinds):
        if at == blur_at:
            s.canvas.defocus(float(torch.rand(1) * 3.5))
        put(s, kind, first + (1 - first) * at / number)


def _main(s: Studio) -> None:
    """What the picture is of."""
    which = int(torch.multinomial(torch.tensor([kind[1] for kind in MAIN]), 1))
    number = [kind[0] for kind in KINDS].index(MAIN[which][0])
    s.canvas.main = True
    put(s, number, 0.0, main=True)
    s.canvas.main = False


def _studio(b: Batch, bank: Bank) -> Studio:
    mood = b.uniform(0.25, 0.75, 3)
    # Dark woods, nights and stages: most of what is there is nearly black.
    mood = torch.where(b.chance(0.12)[:, None] > 0, b.uniform(0.02, 0.2, 3), mood)
    colour = (mood + 0.28 * b.normal()[:, None] + 0.13 * b.normal(3)).clamp(0.02, 0.98)
    amount = b.geometric(0.015, 0.28) * (1 - b.chance(0.35))
    ground = Paint(colour, bank.picked(b), amount, 1 + 0.35 * b.normal(3))
    x, y = b.pixels()
    middle = b.side_px / 2
    light = 1 + 0.25 * (b.normal() * (x - middle) + b.normal() * (y - middle)) / b.side_px
    angle = b.uniform(0, 6.283)
    canvas = Canvas(b, ground, light.clamp(0.2, 1.8))
    return Studio(b, canvas, bank, mood, (torch.cos(angle), torch.sin(angle)))


def _mirrored(s: Studio) -> None:
    """Water from somewhere down: what is above comes again, rippled and darker.

    Its lines are there, but fainter than those of things.
    """
    c, side = s.canvas, s.b.side_px
    at = int(side * (0.5 + 0.3 * float(torch.rand(1))))
    rows = side - at
    ripple = (3 * torch.rand(1).item() * s.bank.picked(s.b)[:, :rows, :1]).round().long()
    columns = (torch.arange(side, device=s.b.device) + ripple).clamp(0, side - 1)
    index = columns[:, None].expand(-1, 3, -1, -1)
    upside = c.image[..., at - rows : at, :].flip(2)
    c.image[..., at:, :] = upside.gather(3, index) * s.b.uniform(0.5, 0.95)[:, None]
    c.water(at)
