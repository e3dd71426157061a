"""What any length may be off: on one sheet, on the joined picture, on a printer's test page.

One number decides: what the joined picture may be off in 600 mm. A sheet may be off by the same
share of its length, so that sheets that are each true are true together. What is joined may be
off by more, since every seam adds its own error, and some are too wide and some too narrow: they
grow with the root of their number. Paper grows between printing and measuring. The three have
nothing to do with each other, so their squares add up.

Everything that judges a length asks here, and no length has two allowances. How closely a rule is
read says which lengths can be judged at all: on 100 mm of a bar the share is less than anybody
reads.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

#: The length that the number is given for.
IN_MM: Final = 600.0
#: What the joined picture may be off in that length: so much a tracing forgives (common practice).
WITHIN_MM: Final = 1.0
#: A steel rule is read to half a millimetre (common practice), so what looks true on it is true to
#: half of that.
RULE_READS_MM: Final = 0.5
READING_ERROR_MM: Final = RULE_READS_MM / 2
_LEAST_TENTHS: Final = math.floor(10 * READING_ERROR_MM)
#: How far a seam is off that is laid edge to edge by eye (common practice).
SEAM_LAID_MM: Final = 0.3
#: How much paper grows from one day to the next. Bond paper grows by 0.2 to 0.4 % across its grain
#: between 33 and 66 % of humidity (what paper makers' tables give for tests after ISO 8226-1; the
#: range of humidity is from memory); a room changes by some 5 % in a day (common practice).
PAPER_GROWS: Final = 0.003 / 33 * 5


@dataclass(frozen=True, kw_only=True)
class Allowances:
    """What lengths may be off.

    Attributes:
        within_mm: What the joined picture may be off in 600 mm.
    """

    within_mm: float = WITHIN_MM

    def off_mm(self, length_mm: float, seams: int = 0) -> float:
        """What a length may be off, in tenths of a mm, so that all say the same figure.

        On one sheet they are rounded down, on a joined length up: what sheets may be off in all
        is never more than their joined length may be. Two tenths are the least: a smaller error no
        rule shows.

        Args:
            length_mm: As it should be.
            seams: How many seams it crosses; none on one sheet.
        """
        printed = self.within_mm / IN_MM * length_mm
        grown = PAPER_GROWS * length_mm
        tenths = 10 * math.hypot(printed, grown, SEAM_LAID_MM * math.sqrt(seams))
        whole = math.ceil(tenths - _ROUNDING_MM) if seams else math.floor(tenths + _ROUNDING_MM)
        return max(whole, _LEAST_TENTHS) / 10

    def tells(self, length_mm: float, of_mm: float, seams: int) -> bool:
        """Whether a length that measures true on a sheet vouches for one of the joined picture.

        A printer errs by a share of each length. A short length that is true as far as a rule
        shows may hide more of it than the whole picture may be off.

        Args:
            length_mm: What is measured on the sheet.
            of_mm: The length of the joined picture.
            seams: How many seams that crosses.
        """
        hidden_mm = max(self.off_mm(length_mm), READING_ERROR_MM) / length_mm * of_mm
        return hidden_mm <= max(self.off_mm(of_mm, seams), READING_ERROR_MM) + _ROUNDING_MM


#: What sums lose in binary.
_ROUNDING_MM = 1e-9
