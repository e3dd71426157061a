"""QR codes (ISO/IEC 18004) of addresses that phones in the room open."""

from __future__ import annotations

import io

import segno


def qr_svg(address: str) -> str:
    """An address as a QR code, an SVG image on a light ground."""
    drawn = io.BytesIO()
    # Error correction M tolerates a projector's glare; the standard's quiet zone is 4.
    code = segno.make(address, error="m", micro=False)
    code.save(drawn, kind="svg", border=4, xmldecl=False, svgclass=None, lineclass=None, scale=8)
    return drawn.getvalue().decode()
