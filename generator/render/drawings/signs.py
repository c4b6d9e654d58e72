"""Small marks that differ by shape, so that no meaning depends on colour alone: outlines around their centre, in px."""

from typing import Literal

Sign = Literal["diamond", "below", "drop", "flag", "tick"]

SIGNS: dict[Sign, str] = {
    "diamond": "M0,-5.5L5.5,0L0,5.5L-5.5,0Z",
    "below": "M-4.5,-3L4.5,-3L0,4.5Z",
    "drop": "M0,-5.5C2.6,-2,4.2,0,4.2,1.8C4.2,4,2.3,5.8,0,5.8C-2.3,5.8,-4.2,4,-4.2,1.8C-4.2,0,-2.6,-2,0,-5.5Z",
    "flag": "M-3,6L-3,-6.5L6,-3.2L-1.5,0L-1.5,6Z",
    "tick": "M-1,-5.5L1,-5.5L1,5.5L-1,5.5Z",
}
