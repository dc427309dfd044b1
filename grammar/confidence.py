"""The named confidences of a reading that no competition decides: it is what its words plainly are, or is asked."""

from __future__ import annotations

from typing import Final

CERTAIN: Final = 0.97
"""Nothing else can be meant."""
FIRM: Final = 0.9
KEPT: Final = 0.85
"""Words beside what was read were kept as said."""
LIKELY_TOO: Final = 0.35
"""Below this a reading is no rival to what its parts say."""
ASKED: Final = 0.5
