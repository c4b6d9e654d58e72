"""Lines by name: a journal gives a line an id, and its corals names."""

import re
from collections import Counter
from collections.abc import Iterable

from generator.records.coral import Coral

# What tells one coral of a line from the next: "Grey Heron 2", "Grey Heron #2", "Grey Heron, no. 2".
_NUMBER = re.compile(r"[\s,#-]+(?:no\.?|nr\.?)?[\s#]*\d+$", re.IGNORECASE)


def line_names(corals: Iterable[Coral]) -> dict[str, str]:
    """Each line's name by its id: that of its first coral without its number, with the id where two share it."""
    firsts: dict[str, Coral] = {}
    for coral in sorted(corals, key=lambda coral: (coral.arrival.at, coral.id)):
        firsts.setdefault(coral.line, coral)
    names = {line: _NUMBER.sub("", first.name) for line, first in firsts.items()}
    times = Counter(name.casefold() for name in names.values())
    return {line: name if times[name.casefold()] == 1 else f"{name} ({line})" for line, name in names.items()}
