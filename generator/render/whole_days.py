"""Days written with hyphens stay whole: a browser may end a line at any hyphen, and 2026- / 11-22 is no day."""

import re

# What is not the running text of a page: its head, scripts, and drawings, whose letters never wrap.
_APART = re.compile(r"(<head>.*?</head>|<script\b.*?</script>|<svg\b.*?</svg>|<time\b.*?</time>)", re.DOTALL)
# A day in the text between tags. One that opens a line of a list or a cell cannot be broken, and there are many.
_DAY = re.compile(r"(?<!<li>)(?<!<td>)(?<![\w/.-])\d{4}-\d\d-\d\d(?![\w-]|\.\w)(?=[^<>]*<)")


def keep_days_whole(html: str) -> str:
    """The same page, each day in its text held together; times say of themselves that they are one piece."""
    pieces = _APART.split(html)
    pieces[::2] = (_DAY.sub(r'<span class="whole">\g<0></span>', piece) for piece in pieces[::2])
    return "".join(pieces)
