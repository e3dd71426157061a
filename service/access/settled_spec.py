"""A class's defaults and fixed fields, applied to a student's spec.

A student's spec starts from the class's defaults, and may change only the fields that the
tutor has left free. Both work on specs as JSON, which the schemas load afterwards.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from worker.errors import SpecFixed
from worker.spec.json import WHOLE_PARTS, dump_spec, load_spec

Json = dict[str, Any]
#: The shortest valid spec: the schema completes it.
_LEAST: Json = {"support": {"width_mm": 300.0, "height_mm": 200.0}}


def start_from(defaults: Mapping[str, Any], spec: Mapping[str, Any]) -> Json:
    """Merge a spec over defaults: what the spec leaves out comes from them.

    A crop or a grid is taken as a whole, since parts of two make no valid one.
    """
    merged: Json = {**defaults, **spec}
    for name in defaults.keys() & spec.keys():
        default, given = defaults[name], spec[name]
        if name not in WHOLE_PARTS and isinstance(default, Mapping) and isinstance(given, Mapping):
            merged[name] = start_from(default, given)
    return merged


def check_defaults(defaults: Mapping[str, Any]) -> None:
    """Check that a spec can start from these defaults.

    Raises:
        SpecError: They make no valid spec.
    """
    load_spec(start_from(_LEAST, defaults))


def field_paths() -> frozenset[str]:
    """Every dotted path that a class may let its students change, groups included."""
    leaves = [path for path, _ in _leaves(dump_spec(load_spec(_LEAST)))]
    parts = [path.split(".") for path in leaves]
    return frozenset(".".join(part[:deep]) for part in parts for deep in range(1, len(part) + 1))


def check_fixed(spec: Json, defaults: Json, may_change: tuple[str, ...] | None) -> None:
    """Check that a student's spec changes only the fields that they may change.

    Args:
        spec: The spec as `dump_spec` writes it.
        defaults: The class's defaults.
        may_change: Dotted paths, each with all below it; None: all fields.

    Raises:
        SpecFixed: Names the first field that may not be changed.
    """
    if may_change is None:
        return
    support = {name: spec["support"][name] for name in ("width_mm", "height_mm")}
    # Where the class sets no support or language, the student's own is not compared.
    own = {"support": support, "language": spec["language"]}
    settled = dump_spec(load_spec(start_from(own, defaults)))
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
        if isinstance(value, Mapping) and path not in WHOLE_PARTS:
            yield from _leaves(value, f"{path}.")
        else:
            yield path, value
