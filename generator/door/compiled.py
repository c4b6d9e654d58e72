"""What is made of the program's own files: kept as Python keeps its compiled modules, beside them or where told to."""

import marshal
import os
import sys
from collections.abc import Callable
from contextlib import suppress
from hashlib import blake2b
from importlib.resources.abc import Traversable
from importlib.util import MAGIC_NUMBER, cache_from_source
from pathlib import Path
from typing import TypeVar

T = TypeVar("T")


def compiled(file: Traversable, make: Callable[[str], T], how: str = "") -> T:
    """What is made of the text of a file: code, or plain lists, dicts, texts and numbers.

    It is made once and read back from then on, until the text, the version of Python or `how`, which says what else it
    depends on, is another one. What was kept may be deleted at any time.
    """
    text = file.read_text(encoding="utf-8")
    mark = MAGIC_NUMBER + blake2b(f"{how}\0{text}".encode(), digest_size=16).digest()
    if not isinstance(file, Path):  # in an archive
        return make(text)
    kept = Path(cache_from_source(f"{file.resolve()}.py"))
    with suppress(OSError, ValueError, EOFError, TypeError):
        found = kept.read_bytes()
        if found.startswith(mark):
            return marshal.loads(found[len(mark) :])  # type: ignore[no-any-return]
    made = make(text)
    if not sys.dont_write_bytecode:
        with suppress(OSError):
            kept.parent.mkdir(parents=True, exist_ok=True)
            new = kept.with_name(f"{kept.name}.{os.getpid()}")
            new.write_bytes(mark + marshal.dumps(made))  # type: ignore[arg-type]
            new.replace(kept)
    return made
