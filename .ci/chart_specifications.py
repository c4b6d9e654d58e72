"""Make templates/charts/*.json: the specification of each kind of chart, which altair takes seconds to make and check.

Run it after changing a specification or raising altair's version:  python .ci/chart_specifications.py
A test makes them again and compares.
"""

import json
from pathlib import Path

FOLDER = Path(__file__).parents[1] / "templates" / "charts"


def text(kind: str) -> str:
    """The file of one kind of chart."""
    from generator.render.charts.specifications import made

    return json.dumps(made(kind), indent=1, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    from generator.render.base.page import KINDS_OF_CHART

    FOLDER.mkdir(exist_ok=True)
    for kind in KINDS_OF_CHART:
        (FOLDER / f"{kind}.json").write_text(text(kind), encoding="utf-8")
