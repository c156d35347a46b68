"""The code on a label: a short, stable address as QR, drawn as SVG.

Level M, and four modules of white on all sides (ISO/IEC 18004, 4th edition, 9.1). An address of 30 letters makes 37
modules with the border: 0.54 mm each on a label of 20 mm.
"""

from __future__ import annotations

import segno

QUIET_MODULES = 4
LEVEL = "m"


def code_svg(address: str, title: str) -> str:
    """An <svg> as wide as its place; title is read aloud in its stead."""
    return segno.make(address, error=LEVEL, micro=False, boost_error=False).svg_inline(
        border=QUIET_MODULES,
        omitsize=True,
        title=title,
        svgclass="code",
        lineclass=None,
        dark="#000",
        light="#fff",
    )


def module_mm(address: str, width_mm: float) -> float:
    """How wide one module is on a label of this width, border included."""
    modules = segno.make(address, error=LEVEL, micro=False, boost_error=False).symbol_size(
        border=QUIET_MODULES
    )[0]
    return width_mm / modules
