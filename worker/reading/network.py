"""Runs the layers of a network, in NumPy, on a few threads.

The same numbers come out on any number of threads: each number depends on its block of places
alone, and blocks are the same always. Within a product that holds as long as BLAS does not
divide it between threads of its own, whose sums are rounded in another order. OpenBLAS does not
do so up to 2^18 multiplications, so no product here is larger. With these sizes it is nearly as
fast as with whole planes (75 of 80 GFLOP/s on one core), two of our threads keep two cores busy,
and nobody waits for its threads, which takes seconds on a busy machine. Strips of blocks fit a
core's own cache.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import cache, partial

import numpy as np

from worker.reading.planes import BLOCK, Floats, Planes, around_second

#: By name of layer, `.weight` (out, in, rows, columns) and `.bias` (out,).
Weights = Mapping[str, Floats]

#: OpenBLAS divides a product of more multiplications between threads: `interface/gemm.c`, where
#: `SMP_THRESHOLD_MIN` is 65536 and `GEMM_MULTITHREAD_THRESHOLD` 4.
_LARGEST_PRODUCT = 65536 * 4
#: No product has more rows than this, so that it can be long instead.
_MOST_ROWS = 96
#: Blocks that a thread takes at once.
_STRIP = 12
#: Numbers of the planes that a thread takes at once where each plane is by itself.
_NUMBERS = 131072


class Network:
    """Layers with the weights of one network.

    Args:
        weights: Of its layers.
        pool: Has threads to spare.
        threads: How many of them work at once.
    """

    def __init__(self, weights: Weights, pool: Executor, threads: int) -> None:
        self.weights, self._pool, self._threads = weights, pool, threads

    def convolved(
        self, layer: str, x: Planes, *, rectify: bool = True, halve: bool = False
    ) -> Planes:
        """A convolution of 1 × 1 or 3 × 3 with zeros around.

        Args:
            layer: Which layer.
            x: What goes in.
            rectify: Whether what is below zero becomes zero.
            halve: Whether only every second place is wanted, of a convolution of 3 × 3.
        """
        kernel = self.weights[f"{layer}.weight"]
        if halve:
            x, kernel = around_second(x), kernel.reshape(len(kernel), -1, 1, 1)
        products = _Products(
            kernel=small_products(kernel), bias=self.weights.get(f"{layer}.bias"), rectify=rectify
        )
        out = Planes.empty(len(kernel), *x.size)
        work = partial(_convolve, products, x, out)
        self._share(-(-out.blocks // _STRIP), work)
        out.clear_rim()
        return out

    def convolved_each(self, layer: str, x: Planes) -> Planes:
        """A convolution of 3 × 3 of each plane by itself; weights (planes, 1, 3, 3)."""
        kernel, bias = self.weights[f"{layer}.weight"], self.weights[f"{layer}.bias"]
        out = Planes.empty(x.count, *x.size)
        self.over_planes(x, partial(_convolve_each, kernel.reshape(-1, 3, 3), bias, x, out))
        out.clear_rim()
        return out

    def halved(self, x: Planes) -> Planes:
        """Means of two by two."""
        out = Planes.empty(x.count, x.rows // 2, x.columns // 2)
        self.over_planes(x, partial(_halve, x, out))
        out.clear_rim()
        return out

    def add_doubled(self, x: Planes, small: Planes) -> None:
        """Add planes of half the size, each number to four; cut off what is below zero then."""
        self.over_planes(x, partial(_add_doubled, x, small))

    def over_planes(self, x: Planes, work: Callable[[slice], None]) -> None:
        """Call `work` for some planes after others, on all threads."""
        each = max(_NUMBERS // x.flat.shape[1], 1)

        def some(parts: Iterator[int]) -> None:
            for part in parts:
                work(slice(part * each, (part + 1) * each))

        self._share(-(-x.count // each), some)

    def _share(self, parts: int, work: Callable[[Iterator[int]], None]) -> None:
        """Let each thread take the next part until none is left."""
        left = iter(range(parts))
        threads = min(self._threads, parts)
        if threads == 1:
            work(left)
        else:
            list(self._pool.map(work, [left] * threads))


@dataclass(frozen=True, kw_only=True, eq=False)
class _Products:
    """What a convolution multiplies by, adds, and whether it cuts off what is below zero."""

    kernel: Floats
    bias: Floats | None
    rectify: bool


def small_products(kernel: Floats) -> Floats:
    """A kernel in products that are small enough: (summands, bands of rows, rows, columns).

    Rows are planes that come out, columns what is seen of planes that go in.
    """
    out, planes, *size = kernel.shape
    seen = size[0] * size[1]
    bands, sums = _divided(out, planes, seen)
    columns = planes // sums * seen
    parts = kernel.reshape(bands, out // bands, sums, columns).transpose(2, 0, 1, 3)
    return np.ascontiguousarray(parts)


@cache
def _divided(out: int, planes: int, seen: int) -> tuple[int, int]:
    """Into how many bands of rows a kernel is divided, and into how many summands."""
    bands = next(n for n in range(1, out + 1) if out % n == 0 and out // n <= _MOST_ROWS)
    most = _LARGEST_PRODUCT // (BLOCK * seen * (out // bands))
    sums = next(n for n in range(1, planes + 1) if planes % n == 0 and planes // n <= most)
    return bands, sums


def _convolve(products: _Products, x: Planes, out: Planes, strips: Iterator[int]) -> None:
    """Fill strips of `out`, each while what it needs is in the core's cache."""
    sums, bands, rows, columns = products.kernel.shape
    planes = x.count // sums
    factors = _Windows(x, columns) if columns > planes else _Places(x)
    begin, blocks = out.first, out.blocks
    filled = out.in_blocks().reshape(blocks, bands, rows, BLOCK)
    summand = np.empty((_STRIP, bands, rows, BLOCK), np.float32)
    for strip in strips:
        first, last = strip * _STRIP, min((strip + 1) * _STRIP, blocks)
        total = filled[first:last]
        np.matmul(products.kernel[0], factors.of(slice(planes), first, last), out=total)
        for part in range(1, sums):
            some = slice(part * planes, (part + 1) * planes)
            more = summand[: last - first]
            np.matmul(products.kernel[part], factors.of(some, first, last), out=more)
            total += more
        whole = out.flat[:, begin + first * BLOCK : begin + last * BLOCK]
        if products.bias is not None:
            whole += products.bias[:, None]
        if products.rectify:
            np.maximum(whole, 0, out=whole)


class _Places:
    """What convolutions of 1 × 1 see."""

    def __init__(self, x: Planes) -> None:
        self._blocks = x.in_blocks()

    def of(self, planes: slice, first: int, last: int) -> Floats:
        """Of some planes and blocks: (blocks, 1, planes, places)."""
        return self._blocks[first:last, None, planes]


class _Windows:
    """What convolutions of 3 × 3 see, copied for a few blocks at a time into the same buffer."""

    def __init__(self, x: Planes, columns: int) -> None:
        self._seen = x.windows()
        copied = np.empty((columns, _STRIP * BLOCK), np.float32)
        self._copied = copied.reshape(-1, 3, 3, _STRIP * BLOCK)
        self._blocks = copied.reshape(columns, 1, _STRIP, BLOCK).transpose(2, 1, 0, 3)

    def of(self, planes: slice, first: int, last: int) -> Floats:
        """Of some planes and blocks: (blocks, 1, planes with their windows, places)."""
        seen = self._seen[planes, :, :, first * BLOCK : last * BLOCK]
        np.copyto(self._copied[..., : seen.shape[-1]], seen)
        return self._blocks[: last - first]


def _convolve_each(kernel: Floats, bias: Floats, x: Planes, out: Planes, planes: slice) -> None:
    """Fill planes of `out`: sums of planes that are shifted by a place or a row."""
    source, first = x.flat[planes], x.first
    places = slice(first, first + x.blocks * BLOCK)
    total = out.flat[planes, places]
    summand = np.empty_like(total)
    total[...] = bias[planes, None]
    for down in range(3):
        for across in range(3):
            start = first + (down - 1) * (x.columns + 2) + across - 1
            shifted = source[:, start : start + total.shape[1]]
            np.multiply(shifted, kernel[planes, down, across, None], out=summand)
            total += summand


def _add_doubled(x: Planes, below: Planes, planes: slice) -> None:
    inner, small = x.inner[planes], below.inner[planes]
    wide = small.repeat(2, axis=2)
    for row in (0, 1):
        total = inner[:, row::2]
        total += wide
        np.maximum(total, 0, out=total)


def _halve(x: Planes, out: Planes, planes: slice) -> None:
    inner = x.inner[planes]
    pairs = inner[:, ::2] + inner[:, 1::2]
    mean = out.inner[planes]
    np.add(pairs[:, :, ::2], pairs[:, :, 1::2], out=mean)
    mean *= np.float32(0.25)
