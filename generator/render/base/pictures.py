"""A photo as a page shows it: its small copies and their sizes."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Copy:
    """One small copy: its address in the site, and its size in pixels."""

    address: str
    width: int
    height: int


@dataclass(frozen=True, slots=True)
class Picture:
    """A photo's copies, from narrow to wide. Where only one can be used, it is the last."""

    copies: tuple[Copy, ...]

    @property
    def largest(self) -> Copy:
        """The widest copy."""
        return self.copies[-1]
