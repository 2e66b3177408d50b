"""What of a lay is written beside its drawings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Written:
    """The files of a lay. With ``motion_code`` the motion of the tool is one of them."""

    motion_code: bool = False

    @property
    def endings(self) -> dict[str, str]:
        """What the name of each of a lay's files ends in, by kind."""
        endings = {"dxf": ".dxf", "svg": ".svg"}
        if self.motion_code:
            endings["motion"] = ".nc"
        return endings


DRAWINGS_ONLY: Final = Written()
"""What is written where the job does not say."""
