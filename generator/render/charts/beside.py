"""The data of a page's live charts, in a file beside the page that is loaded when a chart comes into view."""

import json
from collections.abc import Sequence
from hashlib import sha256

from generator.render.base.chart import Chart
from generator.render.base.words import Words
from generator.render.charts.catalogue import in_words


def beside(charts: Sequence[Chart], words: Words) -> tuple[str, bytes]:
    """Address and content of the script that gives a page's charts their data, and each kind's specification once."""
    given = {
        "kinds": {kind: in_words(kind, words) for kind in sorted({chart.kind for chart in charts})},
        "data": {chart.id: chart.data for chart in charts},
    }
    script = f"chartData({json.dumps(given, ensure_ascii=False, separators=(',', ':'))})\n".encode()
    return f"charts/{charts[0].id.removeprefix('chart-')}-{sha256(script).hexdigest()[:10]}.js", script
