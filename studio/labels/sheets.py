"""Where labels lie on the paper, in millimetres. Pure: a sheet in, pages of labels out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TypeVar

Thing = TypeVar("Thing")
PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height (ISO 216; ANSI/ASME Y14.1)."""
LEAST_CODE_MM = 15.0
LARGEST_CODE_MM = 24.0
WHITE_MM = 2.0
LEAST_WORDS_MM = 15.0


@dataclass(frozen=True, slots=True)
class Sheet:
    """across and down count the labels; left and top are from the paper's edge, gaps lie between labels."""

    paper: str
    across: int
    down: int
    width_mm: float
    height_mm: float
    left_mm: float
    top_mm: float
    gap_across_mm: float
    gap_down_mm: float

    @property
    def each(self) -> int:
        return self.across * self.down

    @property
    def code_mm(self) -> float:
        """The code's side with its white border: what the label's height leaves, and the words beside it."""
        beside = self.width_mm - LEAST_WORDS_MM - 2 * WHITE_MM
        return round(max(min(self.height_mm - WHITE_MM, beside, LARGEST_CODE_MM), 0), 1)

    def problem(self) -> str:
        """Why it can't be printed, in a sentence; empty if it can."""
        width, height = PAPERS[self.paper]
        right = self.left_mm + self.across * (self.width_mm + self.gap_across_mm) - self.gap_across_mm
        bottom = self.top_mm + self.down * (self.height_mm + self.gap_down_mm) - self.gap_down_mm
        if right > width + 0.05:
            return f"{self.across} labels reach {right:g} mm across, and the paper is {width:g} mm wide."
        if bottom > height + 0.05:
            return f"{self.down} labels reach {bottom:g} mm down, and the paper is {height:g} mm high."
        if self.code_mm < LEAST_CODE_MM:
            return (
                f"On such a label the code would be {self.code_mm:g} mm wide, too small to scan. "
                f"It needs {LEAST_CODE_MM:g} mm: a label of {LEAST_CODE_MM + WHITE_MM:g} mm by "
                f"{LEAST_CODE_MM + LEAST_WORDS_MM + 2 * WHITE_MM:g} mm."
            )
        return ""

    @property
    def style(self) -> str:
        """For the page's style sheet, as custom properties."""
        return (
            f"--across: {self.across}; --width: {self.width_mm:g}mm; --height: {self.height_mm:g}mm; "
            f"--left: {self.left_mm:g}mm; --top: {self.top_mm:g}mm; --gap-across: {self.gap_across_mm:g}mm; "
            f"--gap-down: {self.gap_down_mm:g}mm; --code: {self.code_mm:g}mm"
        )


def to_cut(paper: str) -> Sheet:
    """Plain paper to be cut by hand: labels of 63 by 30 mm, as many as fit, in the middle."""
    width, height = PAPERS[paper]
    across, down, gap = 3, 8 if paper == "a4" else 7, 3.0
    left = (width - across * 63 - (across - 1) * gap) / 2
    top = (height - down * 30 - (down - 1) * gap) / 2
    return Sheet(paper, across, down, 63, 30, round(left, 2), round(top, 2), gap, gap)


def pages(things: Sequence[Thing], sheet: Sheet, used: int) -> Iterator[list[Thing | None]]:
    """What lies on each page; None where a label of the first sheet is used up."""
    if not things:
        return
    places: list[Thing | None] = [*[None] * min(used, sheet.each - 1), *things]
    for first in range(0, len(places), sheet.each):
        yield places[first : first + sheet.each]
