"""Train the network that reads contours, on made-up scenes and nothing else.

    python deploy/training/train.py --out FOLDER

Needs a GPU and `pip install ricalco[training]`; scenes are painted on a second one where there is
one. A seed and a number of steps decide the weights, up to how a GPU rounds. `contours.npz.xz` in
FOLDER belongs into `worker/reading/weights/`, with `contours.json`, which says what run made it.
"""

from __future__ import annotations

import argparse
import json
import time
from dataclasses import dataclass
from pathlib import Path

import torch
import torch.nn.functional as F  # noqa: N812 - the library's own short name.
from kept import Stored, loaded, packed, stored, unpacked
from net import MAPS, ContourNet
from painters import PLANES, Painters
from PIL import Image
from scenes import SIDE_PX, scenes
from textures import Bank
from torch import Tensor

DEVICE = "cuda:0"
BATCH, KEPT = 48, 128
#: Processes that paint scenes, and steps from one new batch of theirs to the next.
PAINTERS, FRESH = 12, 12
RATE, WARM_UP, WEIGHT_DECAY = 2e-3, 200, 1e-4
#: How much contour, outer, mark, shadow and sureness count.
WORTH = (1.0, 0.35, 0.35, 0.4, 0.15)
#: Lines are few, and count for more; so do the places beside them (so many pixels around), that
#: what is read is no wider than what is there; and the overlap of both as a whole.
LINE, BESIDE, AROUND_PX, OVERLAP = 8.0, 3.5, 7, 0.3
#: How much what has a kind, or a shadow, counts against what has none.
KIND = 2.5
#: What is read is how likely a line runs through a pixel. Lines are drawn by how likely one runs
#: nearby, for which log odds are so much higher: fitted to what is drawn of a few photographs,
#: those that outlines are measured on among them.
NEARBY = 1.5
AVERAGED = 0.01
#: Of a run that goes on from other weights so much counts: at one half of the run that has seen
#: fronts and animals, petals of a full flower were read more faintly than before.
LEARNT = 0.3
#: What is learnt is written down every so many steps.
KEEPS = 20_000
#: The pace is taken over so many steps, after as many.
PACED = 1000


@dataclass
class Pool:
    """Scenes that were painted last; (pictures, labels, how much each counts)."""

    planes: tuple[Tensor, Tensor, Tensor]
    filled: int = 0

    def add(self, fresh: tuple[Tensor, Tensor, Tensor]) -> None:
        """Put a batch in the place of the oldest."""
        at = self.filled % KEPT * BATCH
        for kept, new in zip(self.planes, fresh, strict=True):
            kept[at : at + BATCH] = new.to(kept.dtype)
        self.filled += 1

    def drawn(self) -> tuple[Tensor, Tensor, Tensor]:
        """Any batch of them, turned and mirrored."""
        which = torch.randint(min(self.filled, KEPT) * BATCH, (BATCH,), device=DEVICE)
        planes = tuple(kept[which].float() for kept in self.planes)
        if torch.rand(1) < 0.5:
            planes = tuple(plane.flip(3) for plane in planes)
        quarter = int(torch.randint(0, 4, (1,)))
        picture, labels, asked = (torch.rot90(plane, quarter, (2, 3)) for plane in planes)
        gain = 0.8 + 0.4 * torch.rand(BATCH, 3, 1, 1, device=DEVICE)
        shift = 0.1 * torch.randn(BATCH, 1, 1, 1, device=DEVICE)
        return (picture * gain + shift).clamp(0, 1), labels, asked


def empty_pool() -> Pool:
    """Room for scenes on the GPU."""
    return Pool(
        tuple(
            torch.zeros(KEPT * BATCH, planes, SIDE_PX, SIDE_PX, device=DEVICE, dtype=torch.bfloat16)
            for planes in PLANES
        )
    )


def loss_of(logits: Tensor, labels: Tensor, asked: Tensor) -> Tensor:
    """What the network is wrong by; of how sure it is, it is judged by its own errors."""
    labels, asked = labels[:, : MAPS - 1], asked[:, : MAPS - 1]
    each = F.binary_cross_entropy_with_logits(logits[:, :-1], labels, reduction="none")
    counts = asked * torch.where(labels > 0, KIND, 1.0)
    line = labels[:, :1]
    beside = (wider(line, AROUND_PX) > 0) & (line == 0)
    counts[:, :1] = asked[:, :1] * torch.where(line > 0, LINE, torch.where(beside, BESIDE, 1.0))
    total = sum(
        worth * (each[:, at] * counts[:, at]).sum() / counts[:, at].sum().clamp(1)
        for at, worth in enumerate(WORTH[:-1])
    )
    read = torch.sigmoid(logits[:, :1])
    total = total + OVERLAP * apart(read, line, asked[:, :1])
    right = 1 - (wider(read.detach(), 3) - wider(line, 3)).abs()
    sure = F.binary_cross_entropy_with_logits(logits[:, -1:], right, reduction="none")
    return total + WORTH[-1] * (sure * asked[:, :1]).sum() / asked[:, 0].sum()


def wider(x: Tensor, side_px: int) -> Tensor:
    """The most of what is around."""
    return F.max_pool2d(x, side_px, 1, side_px // 2)


def apart(read: Tensor, line: Tensor, asked: Tensor) -> Tensor:
    """1 less the coefficient of Dice of what is read and what is there, scene by scene.

    It is what makes boundaries crisp (Deng and others, "Learning to predict crisp boundaries",
    ECCV 2018): a band that is too wide overlaps less, however many pixels have no line.
    """
    both, squares = (
        (plane * asked).sum((1, 2, 3)) for plane in (read * line, read * read + line * line)
    )
    return 1 - ((2 * both + 1) / (squares + 1)).mean()


def trained(
    steps: int, seed: int, within_s: float, out: Path, begin: Path | None = None
) -> tuple[ContourNet, int]:
    """A network, the running mean of its weights, and after how many steps.

    Args:
        steps: At most so many.
        seed: Of all that is random.
        within_s: Fewer where they would take longer, by the pace of the first, which a long run has
            been seen to miss by a sixth; the result is that of asking for as many.
        out: Where what is learnt so far is kept.
        begin: Weights to go on from, with smaller steps that shrink from the start; the result is
            `LEARNT` of the way from them to where that leads.
    """
    torch.manual_seed(seed)
    torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True
    torch.backends.cudnn.benchmark = True
    net = ContourNet()
    if begin:
        net.load_state_dict(raised(loaded(unpacked(begin)), -NEARBY))
    rate, falls = (RATE / 2, 1.0) if begin else (RATE, 0.7)
    net = net.to(DEVICE, memory_format=torch.channels_last)
    run = torch.compile(net)
    judge = torch.compile(loss_of)
    optimiser = torch.optim.AdamW(net.parameters(), RATE, weight_decay=WEIGHT_DECAY, fused=True)
    mean = {name: value.clone() for name, value in net.state_dict().items()}
    start = {name: value.clone() for name, value in mean.items()}
    pool, begun, lost = empty_pool(), time.time(), 0.0
    # What is compiled for one painter is there for all.
    scenes(Bank(2, 256, DEVICE), BATCH, DEVICE)
    painters = Painters(seed, PAINTERS, BATCH, easels())
    for _ in range(2 * PAINTERS):
        pool.add(painters.batch(DEVICE))
    print(f"{2 * PAINTERS} batches of scenes in {time.time() - begun:.1f} s", flush=True)
    paced, step = time.time(), -1
    while (step := step + 1) < steps:
        if step == PACED:
            paced = time.time()
        elif step == 2 * PACED and within_s:
            pace_s = (time.time() - paced) / PACED
            steps = min(steps, step + int((within_s - (time.time() - begun)) / pace_s))
            print(f"{pace_s * 1000:.1f} ms a step: {steps} steps", flush=True)
        left = 1 - step / steps
        for group in optimiser.param_groups:
            group["lr"] = rate * min(1, step / WARM_UP) * (0.02 + 0.98 * min(1.0, left / falls))
        if step % FRESH == 0:
            pool.add(painters.batch(DEVICE))
        picture, labels, asked = pool.drawn()
        with torch.autocast("cuda", torch.bfloat16):
            logits = run(picture.contiguous(memory_format=torch.channels_last))
        loss = judge(logits.float(), labels, asked)
        learn(net, optimiser, loss, mean, step)
        if step % KEEPS == KEEPS - 1:
            keep(partway(start, mean) if begin else mean, out / "so-far.npz.xz")
        if step % 500 == 499:
            lost = loss.item()
            print(f"{step + 1} steps, {time.time() - begun:.0f} s, loss {lost:.4f}", flush=True)
    net.load_state_dict(partway(start, mean) if begin else mean)
    return net.eval(), steps


def learn(
    net: torch.nn.Module,
    optimiser: torch.optim.Optimizer,
    loss: Tensor,
    mean: dict[str, Tensor],
    step: int,
) -> None:
    """Take a step by what a network is wrong by, and at times its weights into their mean."""
    optimiser.zero_grad(set_to_none=True)
    loss.backward()
    torch.nn.utils.clip_grad_norm_(net.parameters(), 1.0)
    optimiser.step()
    if step % 5 == 0:
        with torch.no_grad():
            for name, value in net.state_dict().items():
                mean[name].lerp_(value, max(AVERAGED, 1 / (1 + step / 5)))


def partway(start: dict[str, Tensor], end: dict[str, Tensor]) -> dict[str, Tensor]:
    """Weights between those of before and after, which forget less of what they knew before.

    Wortsman and others, "Robust fine-tuning of zero-shot models", CVPR 2022.
    """
    return {name: torch.lerp(start[name], value, LEARNT) for name, value in end.items()}


def easels() -> list[int]:
    """GPUs on which scenes are painted: all but the first, or the only one."""
    return [*range(1, torch.cuda.device_count())] or [0]


def keep(weights: dict[str, Tensor], path: Path) -> Stored:
    """Write weights as they are shipped."""
    kept = stored(raised(weights))
    path.write_bytes(packed(kept))
    return kept


def raised(weights: dict[str, Tensor], by: float = NEARBY) -> dict[str, Tensor]:
    """Weights whose contours say how likely a line runs nearby."""
    bias = weights["o.bias"].clone()
    bias[:4] += by
    return {**weights, "o.bias": bias}


@torch.no_grad()
def told(net: ContourNet) -> dict[str, float]:
    """Precision and recall of contours at one half, on fresh scenes, within a pixel."""
    torch.manual_seed(77)
    found = right = there = met = 0.0
    for _ in range(6):
        picture, labels, asked = scenes(Bank(8, 512, DEVICE), 16, DEVICE)
        line = ((torch.sigmoid(net(picture)[:, :1]) > 0.5) & (asked[:, :1] > 0)).float()
        true = (labels[:, :1] > 0.5).float()
        found, right = found + line.sum(), right + (line * wider(true, 3)).sum()
        there, met = there + true.sum(), met + (true * wider(line, 3)).sum()
    return {"precision": float(right / found), "recall": float(met / there)}


@torch.no_grad()
def shown(net: ContourNet, path: Path) -> None:
    """Some scenes, what is to be read in them and what is read, as a picture."""
    torch.manual_seed(78)
    picture, labels, _ = scenes(Bank(16, 512, DEVICE), 16, DEVICE)
    read = torch.sigmoid(net(picture))
    blocks = [
        torch.cat([picture[i], _inked(labels[i]), _inked(read[i])], 2) for i in range(len(picture))
    ]
    columns = [torch.cat(blocks[at::3], 1)[:, : SIDE_PX * 5] for at in range(3)]
    pixels = (torch.cat(columns, 2).permute(1, 2, 0) * 255).byte().cpu().numpy()
    Image.fromarray(pixels).save(path)


def _inked(maps: Tensor) -> Tensor:
    """Contours in black, outer ones red, marks blue, shadows green; (3, rows, columns)."""
    contour, outer, mark, shadow = maps[:4]
    ink = torch.stack([contour * (1 - 0.9 * outer), contour, contour * (1 - 0.9 * mark)])
    green = shadow * 0.5
    return (1 - ink - torch.stack([green, torch.zeros_like(green), green])).clamp(0, 1)


def main() -> None:
    """Train, judge and write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--steps", type=int, default=120_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--begin", type=Path, metavar="contours.npz.xz")
    parser.add_argument("--within", type=float, default=0.0, metavar="SECONDS")
    parser.add_argument("--out", type=Path, required=True)
    asked = parser.parse_args()
    begun_from = asked.begin and json.loads((asked.begin.parent / "contours.json").read_text())
    begun = time.time()
    net, steps = trained(asked.steps, asked.seed, asked.within, asked.out, asked.begin)
    weights = keep(net.state_dict(), asked.out / "contours.npz.xz")
    # What is judged is what is shipped: the numbers as they are stored.
    net.load_state_dict(loaded(weights))
    run = {
        "seed": asked.seed,
        "steps": steps,
        "learnt": LEARNT if asked.begin else 1.0,
        "numbers": sum(value.size for value in weights.values()),
        "torch": torch.__version__,
        "device": torch.cuda.get_device_name(),
        "seconds": round(time.time() - begun),
        "begun_from": begun_from,
        **told(net),
    }
    (asked.out / "contours.json").write_text(json.dumps(run, indent=2) + "\n")
    shown(net, asked.out / "scenes.png")
    print(json.dumps(run))


if __name__ == "__main__":
    main()
