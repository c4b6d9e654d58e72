"""Keeps dates such as 2026-11-22 on one line: a browser may break a line at any hyphen."""

import re

# Parts of a page that are not running text: its head, scripts, and drawings, which never wrap.
_APART = re.compile(r"(<head>.*?</head>|<script\b.*?</script>|<svg\b.*?</svg>|<time\b.*?</time>)", re.DOTALL)
# A date in the text between tags. A date that starts a list item or a cell cannot be broken, so it is left alone.
_DAY = re.compile(r"(?<!<li>)(?<!<td>)(?<![\w/.-])\d{4}-\d\d-\d\d(?![\w-]|\.\w)(?=[^<>]*<)")


def keep_days_whole(html: str) -> str:
    """The same page with each date in its text kept together; `<time>` elements already are."""
    pieces = _APART.split(html)
    pieces[::2] = (_DAY.sub(r'<span class="whole">\g<0></span>', piece) for piece in pieces[::2])
    return "".join(pieces)
