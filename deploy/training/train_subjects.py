"""Train what tells what a picture is of, beside the network that reads contours, on made-up scenes.

    python deploy/training/train_subjects.py --contours worker/reading/weights/contours.npz --out FOLDER

The network for contours does not change. `subjects.npz` in FOLDER belongs into
`worker/reading/weights/`, with `subjects.json`, which says what run made it.
"""

from __future__ import annotations

import argparse
import json
import time
from pathlib import Path

import numpy as np
import torch
import torch.nn.functional as F  # noqa: N812 - the library's own short name.
from net import SUBJECTS, ContourNet, SubjectNet, loaded, stored
from painters import Painters
from PIL import Image
from scenes import scenes
from textures import Bank
from torch import Tensor
from train import BATCH, DEVICE, FRESH, PAINTERS, Pool, easels, empty_pool

RATE, WARM_UP, WEIGHT_DECAY, AVERAGED = 2e-3, 200, 1e-3, 0.01
#: How much it counts what a picture is of, and leaves, hair, skin; and overlap as a whole.
WORTH, OVERLAP = (1.0, 0.3, 0.3, 0.3), 0.5
#: So often a part of a scene is seen, down to such a share of its side.
CLOSE_UPS, CLOSEST = 0.4, 0.45
#: Pixels of a square of the grid.
SQUARE_PX = 4


def loss_of(logits: Tensor, labels: Tensor, asked: Tensor) -> Tensor:
    """What is told wrongly on the grid."""
    there = F.avg_pool2d(labels[:, -SUBJECTS:], SQUARE_PX)
    counts = F.avg_pool2d(asked[:, -1:], SQUARE_PX)
    each = F.binary_cross_entropy_with_logits(logits, there, reduction="none")
    main = (each[:, :1] * counts).sum() / counts.sum().clamp(1)
    kinds = each[:, 1:].mean((0, 2, 3))
    told = torch.sigmoid(logits[:, :1])
    both, squares = (
        (plane * counts).sum((1, 2, 3))
        for plane in (told * there[:, :1], told**2 + there[:, :1] ** 2)
    )
    known = (counts.amax((1, 2, 3)) > 0.5).float()
    apart = ((1 - (2 * both + 1) / (squares + 1)) * known).sum() / known.sum().clamp(1)
    weight = torch.tensor(WORTH[1:], device=logits.device)
    return WORTH[0] * main + (weight * kinds).sum() + OVERLAP * apart


def nearer(picture: Tensor, labels: Tensor, asked: Tensor) -> tuple[Tensor, Tensor, Tensor]:
    """At times a part of each scene, enlarged: things are read at two scales."""
    if torch.rand(1) > CLOSE_UPS:
        return picture, labels, asked
    planes = torch.cat([picture, labels, asked], 1)
    side = planes.shape[-1]
    part = int(side * float(torch.empty(1).uniform_(CLOSEST, 1)))
    top, left = (int(torch.randint(0, side - part + 1, (1,))) for _ in "12")
    planes = planes[..., top : top + part, left : left + part]
    planes = F.interpolate(planes, size=(side, side), mode="bilinear")
    return planes.split((3, labels.shape[1], asked.shape[1]), 1)


def trained(body: ContourNet, seed: int, within_s: float, warm: Path | None) -> tuple[SubjectNet, int]:
    torch.manual_seed(seed)
    head = SubjectNet().to(DEVICE, memory_format=torch.channels_last)
    if warm:
        with np.load(warm) as kept:
            head.load_state_dict(loaded(dict(kept)))
    see = torch.compile(body.planes)
    run = torch.compile(head)
    judge = torch.compile(loss_of)
    optimiser = torch.optim.AdamW(head.parameters(), RATE, weight_decay=WEIGHT_DECAY, fused=True)
    mean = {name: value.clone() for name, value in head.state_dict().items()}
    pool, begun = empty_pool(), time.time()
    scenes(Bank(2, 256, DEVICE), BATCH, DEVICE)
    painters = Painters(seed, PAINTERS, BATCH, easels())
    for _ in range(2 * PAINTERS):
        pool.add(painters.batch(DEVICE))
    print(f"scenes in {time.time() - begun:.1f} s", flush=True)
    step = 0
    while True:
        left = 1 - (time.time() - begun) / within_s
        if left <= 0:
            break
        for group in optimiser.param_groups:
            group["lr"] = RATE * min(1, step / WARM_UP) * (0.02 + 0.98 * min(1.0, left / 0.6))
        if step % FRESH == 0:
            pool.add(painters.batch(DEVICE))
        picture, labels, asked = nearer(*pool.drawn())
        with torch.no_grad(), torch.autocast("cuda", torch.bfloat16):
            seen = see(picture.contiguous(memory_format=torch.channels_last))
        with torch.autocast("cuda", torch.bfloat16):
            logits = run([each.detach() for each in seen[:4]])
        loss = judge(logits.float(), labels, asked)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(head.parameters(), 1.0)
        optimiser.step()
        if step % 5 == 0:
            with torch.no_grad():
                for name, value in head.state_dict().items():
                    mean[name].lerp_(value, max(AVERAGED, 1 / (1 + step / 5)))
        step += 1
        if step % 500 == 0:
            print(f"{step} steps, {time.time() - begun:.0f} s, loss {loss.item():.4f}", flush=True)
    head.load_state_dict(mean)
    return head.eval(), step


@torch.no_grad()
def told(body: ContourNet, head: SubjectNet, path: Path) -> dict[str, float]:
    """Overlap of what is told and what is there, on fresh scenes; some of them as a picture."""
    torch.manual_seed(77)
    both, either, rows = 0.0, 0.0, []
    for _ in range(8):
        picture, labels, asked = scenes(Bank(8, 512, DEVICE), 16, DEVICE)
        logits = head(body.planes(picture)[:4])
        found = F.interpolate(torch.sigmoid(logits), scale_factor=SQUARE_PX, mode="bilinear")
        known = asked[:, -1:] > 0.9
        there = labels[:, -SUBJECTS : -SUBJECTS + 1] > 0.5
        mine = found[:, :1] > 0.5
        both = both + (there & mine & known).sum()
        either = either + ((there | mine) & known).sum()
        for at in range(4):
            planes = [labels[at, -4:], found[at]]
            grey = [each[at2][None].expand(3, -1, -1) for at2 in range(4) for each in planes]
            rows.append(torch.cat([picture[at], *grey], 2))
    pixels = (torch.cat(rows, 1).permute(1, 2, 0) * 255).byte().cpu().numpy()
    Image.fromarray(pixels).resize((pixels.shape[1] // 2, pixels.shape[0] // 2)).save(path)
    return {"overlap": float(both / either)}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--contours", type=Path, required=True)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--begin", type=Path)
    parser.add_argument("--within", type=float, required=True, metavar="SECONDS")
    parser.add_argument("--out", type=Path, required=True)
    asked = parser.parse_args()
    body = ContourNet()
    with np.load(asked.contours) as kept:
        body.load_state_dict(loaded(dict(kept)))
    body = body.to(DEVICE, memory_format=torch.channels_last).eval().requires_grad_(False)
    begun = time.time()
    head, steps = trained(body, asked.seed, asked.within, asked.begin)
    weights = stored(head.state_dict())
    np.savez_compressed(asked.out / "subjects.npz", allow_pickle=False, **weights)
    head.load_state_dict(loaded(weights))
    run = {
        "seed": asked.seed,
        "steps": steps,
        "numbers": sum(value.size for value in weights.values()),
        "torch": torch.__version__,
        "device": torch.cuda.get_device_name(),
        "seconds": round(time.time() - begun),
        **told(body, head, asked.out / "subjects.png"),
    }
    (asked.out / "subjects.json").write_text(json.dumps(run, indent=2) + "\n")
    print(json.dumps(run))


if __name__ == "__main__":
    main()
