"""Changes to files as broken lines, disks, programs and ill will make them."""

from __future__ import annotations

import random
from collections.abc import Callable

#: Lengths, counts and offsets at which programs go wrong, in two and in four bytes.
_NUMBERS = (0, 1, 0x7F, 0x80, 0xFF, 0x7FFF, 0x8000, 0xFFFF, 0x7FFFFFFF, 0x80000000, 0xFFFFFFFF)
#: Headers and tables are at the beginning of most kinds: half of all changes are made there.
_HEAD = 600
_MOST_CHANGES, _LONGEST_BLOCK = 5, 300

Change = Callable[[random.Random, bytearray, bytes], None]


def mutated(chance: random.Random, data: bytes, other: bytes) -> bytes:
    """The file with one to five changes, mostly one or two.

    Args:
        chance: Decides which.
        data: The file.
        other: Another file, of which parts are taken.
    """
    changed = bytearray(data)
    count = 1 + int(chance.expovariate(1.0))
    for _ in range(min(count, _MOST_CHANGES)):
        chance.choice(_CHANGES)(chance, changed, other)
    return bytes(changed)


def _place(chance: random.Random, data: bytearray) -> int:
    end = min(len(data), _HEAD) if chance.random() < 0.5 else len(data)
    return chance.randrange(max(end, 1))


def _length(chance: random.Random) -> int:
    return chance.randint(1, _LONGEST_BLOCK)


def _flip(chance: random.Random, data: bytearray, _: bytes) -> None:
    at = _place(chance, data)
    data[at : at + 1] = bytes(one ^ (1 << chance.randrange(8)) for one in data[at : at + 1])


def _byte(chance: random.Random, data: bytearray, _: bytes) -> None:
    at = _place(chance, data)
    data[at : at + 1] = bytes([chance.randrange(256)])


def _number(chance: random.Random, data: bytearray, _: bytes) -> None:
    size = chance.choice((2, 4, 8))
    number = chance.choice(_NUMBERS) & (1 << 8 * size) - 1
    at = _place(chance, data)
    data[at : at + size] = number.to_bytes(size, chance.choice(("big", "little")))


def _cut_out(chance: random.Random, data: bytearray, _: bytes) -> None:
    at = _place(chance, data)
    del data[at : at + _length(chance)]


def _double(chance: random.Random, data: bytearray, _: bytes) -> None:
    at = _place(chance, data)
    data[at:at] = data[at : at + _length(chance)] * chance.randint(1, 4)


def _zero(chance: random.Random, data: bytearray, _: bytes) -> None:
    at = _place(chance, data)
    data[at : at + _length(chance)] = bytes(_length(chance))


def _noise(chance: random.Random, data: bytearray, _: bytes) -> None:
    at = _place(chance, data)
    data[at : at + _length(chance)] = chance.randbytes(_length(chance))


def _break_off(chance: random.Random, data: bytearray, _: bytes) -> None:
    del data[_place(chance, data) :]


def _part_of_other(chance: random.Random, data: bytearray, other: bytes) -> None:
    at, start = _place(chance, data), chance.randrange(len(other))
    part = other[start : start + _length(chance)]
    data[at : at + len(part)] = part


_CHANGES: tuple[Change, ...] = (
    _flip,
    _byte,
    _number,
    _number,
    _cut_out,
    _double,
    _zero,
    _noise,
    _break_off,
    _part_of_other,
)
