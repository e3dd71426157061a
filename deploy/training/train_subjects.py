"""Train what tells what a picture is of, beside the network that reads contours, on made-up scenes.

    python deploy/training/train_subjects.py --within 510 --out FOLDER

The network for contours stays as it is shipped. `subjects.npz.xz` in FOLDER belongs into
`worker/reading/weights/`, with `subjects.json`, which says what run made it.
"""

from __future__ import annotations

import argparse
import json
import time
from pathlib import Path

import torch
import torch.nn.functional as F  # noqa: N812 - the library's own short name.
from kept import loaded, packed, stored, unpacked
from net import SUBJECTS, ContourNet, SubjectNet
from painters import Painters
from PIL import Image
from scenes import scenes
from textures import Bank
from torch import Tensor
from train import BATCH, DEVICE, FRESH, PAINTERS, WARM_UP, easels, empty_pool, learn

WEIGHTS = Path(__file__).resolve().parents[2] / "worker" / "reading" / "weights"
RATE, WEIGHT_DECAY = 2e-3, 1e-3
#: How much it counts what a picture is of, and overlap as a whole; and what is leaves, hair and
#: skin, which is told in training alone: who knows these knows a figure.
MAIN, OVERLAP, KINDS = 1.0, 0.5, 0.3
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
    told = torch.sigmoid(logits[:, :1])
    both, squares = (
        (plane * counts).sum((1, 2, 3))
        for plane in (told * there[:, :1], told**2 + there[:, :1] ** 2)
    )
    known = (counts.amax((1, 2, 3)) > 0.5).float()
    apart = ((1 - (2 * both + 1) / (squares + 1)) * known).sum() / known.sum().clamp(1)
    return MAIN * main + OVERLAP * apart + KINDS * each[:, 1:].mean((0, 2, 3)).sum()


def nearer(picture: Tensor, labels: Tensor, asked: Tensor) -> tuple[Tensor, ...]:
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


def trained(
    body: ContourNet, seed: int, within_s: float, begin: Path | None
) -> tuple[SubjectNet, int]:
    """A network, the running mean of its weights, and after how many steps.

    Args:
        body: What reads contours, and does not change.
        seed: Of all that is random.
        within_s: How long it learns.
        begin: Weights as they are while it learns, to go on from.
    """
    torch.manual_seed(seed)
    net = SubjectNet(SUBJECTS).to(DEVICE, memory_format=torch.channels_last)
    if begin:
        net.load_state_dict(loaded(unpacked(begin)))
    see, run, judge = torch.compile(body.planes), torch.compile(net), torch.compile(loss_of)
    optimiser = torch.optim.AdamW(net.parameters(), RATE, weight_decay=WEIGHT_DECAY, fused=True)
    mean = {name: value.clone() for name, value in net.state_dict().items()}
    pool, begun, step = empty_pool(), time.time(), 0
    # What is compiled for one painter is there for all.
    scenes(Bank(2, 256, DEVICE), BATCH, DEVICE)
    painters = Painters(seed, PAINTERS, BATCH, easels())
    for _ in range(2 * PAINTERS):
        pool.add(painters.batch(DEVICE))
    while (left := 1 - (time.time() - begun) / within_s) > 0:
        for group in optimiser.param_groups:
            group["lr"] = RATE * min(1, step / WARM_UP) * (0.02 + 0.98 * min(1.0, left / 0.6))
        if step % FRESH == 0:
            pool.add(painters.batch(DEVICE))
        picture, labels, asked = nearer(*pool.drawn())
        with torch.autocast("cuda", torch.bfloat16):
            with torch.no_grad():
                seen = see(picture.contiguous(memory_format=torch.channels_last))
            logits = run([each.detach() for each in seen])
        loss = judge(logits.float(), labels, asked)
        learn(net, optimiser, loss, mean, step)
        step += 1
        if step % 500 == 0:
            print(f"{step} steps, {time.time() - begun:.0f} s, loss {loss.item():.4f}", flush=True)
    net.load_state_dict(mean)
    return net.eval(), step


@torch.no_grad()
def told(body: ContourNet, net: SubjectNet, path: Path) -> float:
    """Intersection over union of what is told and what is there; some scenes as a picture."""
    torch.manual_seed(77)
    both = either = torch.zeros((), device=DEVICE)
    rows = []
    for _ in range(8):
        picture, labels, asked = scenes(Bank(8, 512, DEVICE), 16, DEVICE)
        found = torch.sigmoid(net(body.planes(picture)))
        found = F.interpolate(found, scale_factor=SQUARE_PX, mode="bilinear")[:, :1]
        there, known = labels[:, -SUBJECTS : 1 - SUBJECTS], asked[:, -1:] > 0.9
        both = both + ((there > 0.5) & (found > 0.5) & known).sum()
        either = either + (((there > 0.5) | (found > 0.5)) & known).sum()
        for at in range(4):
            grey = [plane[at].expand(3, -1, -1) for plane in (there, found)]
            rows.append(torch.cat([picture[at], *grey], 2))
    pixels = (torch.cat(rows, 1).permute(1, 2, 0) * 255).byte().cpu().numpy()
    Image.fromarray(pixels).save(path)
    return float(both / either)


def main() -> None:
    """Train, judge and write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--begin", type=Path, metavar="so-far.npz.xz")
    parser.add_argument("--within", type=float, required=True, metavar="SECONDS")
    parser.add_argument("--out", type=Path, required=True)
    asked = parser.parse_args()
    asked.out.mkdir(parents=True, exist_ok=True)
    body = ContourNet()
    body.load_state_dict(loaded(unpacked(WEIGHTS / "contours.npz.xz")))
    body = body.to(DEVICE, memory_format=torch.channels_last).eval()
    body.requires_grad_(requires_grad=False)
    begun = time.time()
    net, steps = trained(body, asked.seed, asked.within, asked.begin)
    weights = net.state_dict()
    (asked.out / "so-far.npz.xz").write_bytes(packed(stored(weights)))
    main_alone = {name: one[:1] if name.startswith("m.") else one for name, one in weights.items()}
    shipped = stored(main_alone)
    (asked.out / "subjects.npz.xz").write_bytes(packed(shipped))
    # What is judged is what is shipped: the numbers as they are stored.
    net = SubjectNet().to(DEVICE).eval()
    net.load_state_dict(loaded(shipped))
    begun_from = asked.begin and json.loads((asked.begin.parent / "subjects.json").read_text())
    run = {
        "seed": asked.seed,
        "steps": steps,
        "numbers": sum(value.size for value in shipped.values()),
        "torch": torch.__version__,
        "device": torch.cuda.get_device_name(),
        "seconds": round(time.time() - begun),
        "begun_from": begun_from,
        "intersection_over_union": told(body, net, asked.out / "scenes.png"),
    }
    (asked.out / "subjects.json").write_text(json.dumps(run, indent=2) + "\n")
    print(json.dumps(run))


if __name__ == "__main__":
    main()
