"""Days written with hyphens stay whole: a browser may end a line at any hyphen, and 2026- / 11-22 is no day."""

import re

# What is not the running text of a page: its head, scripts, and drawings, whose letters never wrap.
_APART = re.compile(r"(<head>.*?</head>|<script\b.*?</script>|<svg\b.*?</svg>|<time\b.*?</time>)", re.DOTALL)
_TEXT = re.compile(r">[^<]*\d{4}-\d\d-\d\d[^<]*<")
_DAY = re.compile(r"(?<![\w-])\d{4}-\d\d-\d\d(?![\w-])")


def keep_days_whole(html: str) -> str:
    """The same page, each day in its text held together; times say of themselves that they are one piece."""
    pieces = _APART.split(html)
    pieces[::2] = (_TEXT.sub(_held, piece) for piece in pieces[::2])
    return "".join(pieces)


def _held(text: re.Match[str]) -> str:
    return _DAY.sub(r'<span class="whole">\g<0></span>', text[0])
