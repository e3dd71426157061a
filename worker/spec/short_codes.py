"""Codes of eight letters that people read off and type: packs' numbers, classes' join codes.

They have the letters of Crockford's base 32, which leaves out what is misread.
"""

from __future__ import annotations

#: Digits and letters without I, L, O and U.
LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
CODE_LETTERS = 8
#: Letters that no code has, and the figures that are meant.
_MISREAD = str.maketrans("OIL", "011")
_HALF = CODE_LETTERS // 2


def shown_code(code: str) -> str:
    """A code as it is printed and shown: `7K3F-Q2ZD`."""
    return f"{code[:_HALF]}-{code[_HALF:]}"


def read_code(written: str) -> str:
    """A code's letters, as somebody has typed it: `7K3FQ2ZD` for `7k3f q2zd`."""
    return "".join(one for one in written.upper() if one.isalnum()).translate(_MISREAD)
