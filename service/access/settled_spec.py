"""What a tutor has settled for a class, laid under and over a student's spec.

A student's spec starts from the class's defaults; fields that the tutor keeps to
themselves must stay as they are there. Both work on specs as JSON: the contract's schemas
read the result as they read any other.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from worker.errors import SpecFixed
from worker.spec.json import dump_spec, load_spec

Json = dict[str, Any]
#: Parts that mean something only as a whole.
_WHOLE = frozenset({"crop", "grid"})
#: Enough of a spec to have all others filled in.
_LEAST: Json = {"support": {"width_mm": 300.0, "height_mm": 200.0}}


def start_from(defaults: Mapping[str, Any], spec: Mapping[str, Any]) -> Json:
    """A spec, and below it, where it says nothing, the defaults.

    A crop or a grid is taken or left as a whole: half of one and half of another mean
    nothing.
    """
    merged: Json = {**defaults, **spec}
    for name in defaults.keys() & spec.keys():
        ours, theirs = defaults[name], spec[name]
        if name not in _WHOLE and isinstance(ours, Mapping) and isinstance(theirs, Mapping):
            merged[name] = start_from(ours, theirs)
    return merged


def check_defaults(defaults: Mapping[str, Any]) -> None:
    """See that specs can start from these.

    Raises:
        SpecError: What is wrong with them.
    """
    load_spec(start_from(_LEAST, defaults))


def field_paths() -> frozenset[str]:
    """Every dotted path that a class may leave to its students, wholes included."""
    leaves = [path for path, _ in _leaves(dump_spec(load_spec(_LEAST)))]
    parts = [path.split(".") for path in leaves]
    return frozenset(".".join(part[:deep]) for part in parts for deep in range(1, len(part) + 1))


def check_fixed(spec: Json, defaults: Json, may_change: tuple[str, ...] | None) -> None:
    """See that a student's spec changes only what they may.

    Args:
        spec: As `dump_spec` writes it.
        defaults: The class's.
        may_change: Dotted paths, each with all below it; None: everything.

    Raises:
        SpecFixed: With the first field that was changed all the same.
    """
    if may_change is None:
        return
    support = {name: spec["support"][name] for name in ("width_mm", "height_mm")}
    # Without a support of the class's, everybody has to say their own.
    settled = dump_spec(load_spec(start_from({"support": support}, defaults)))
    wanted = dict(_leaves(settled))
    for path, value in _leaves(spec):
        free = any(path == one or path.startswith(f"{one}.") for one in may_change)
        if not free and value != wanted.get(path):
            shown = "what it is" if wanted.get(path) is None else str(wanted[path])
            message = f"Your tutor has settled {path} for this class: leave it at {shown}."
            raise SpecFixed(message, field=path)


def _leaves(spec: Mapping[str, Any], above: str = "") -> Iterator[tuple[str, Any]]:
    for name, value in spec.items():
        path = f"{above}{name}"
        if isinstance(value, Mapping) and path not in _WHOLE:
            yield from _leaves(value, f"{path}.")
        else:
            yield path, value
