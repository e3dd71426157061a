"""The number on a pack's sheets, as somebody has read it off one and typed it."""

from __future__ import annotations

#: Letters that no number has, since they are misread from paper, and the figures that are meant.
_MISREAD = str.maketrans("OIL", "011")
_HALF = 4


def read_number(written: str) -> str:
    """A pack's number as it is printed: `7K3F-Q2ZD` for `7k3f q2zd`."""
    letters = "".join(one for one in written.upper() if one.isalnum()).translate(_MISREAD)
    return f"{letters[:_HALF]}-{letters[_HALF:]}"
