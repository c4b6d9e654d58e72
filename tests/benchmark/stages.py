"""``python -m tests.benchmark.stages CONTENT SITE``: where the CPU of a build without a memory goes, stage by stage."""

import importlib
import io
import os
import sys
import time
from collections.abc import Callable
from contextlib import redirect_stdout
from typing import Any

from tests.conftest import AS_OF

# What a stage is called, and the function that does its work; what it asks of another stage counts there.
_STAGES = {
    "read and check": ("generator.read.load", "load"),
    "calculate": ("generator.reckon.analysis.journal", "analyse"),
    "records of origin": ("generator.commands.papers", "papers"),
    "photos": ("generator.publish.assets", "small_copies"),
    "page models and charts": ("generator.render.site.site_map", "steps_of_site"),
    "draw pages": ("generator.render.base.page", "render_page"),
    "check links": ("generator.render.base.links", "dead_links_of"),
    "write": ("generator.publish.stage", "publish"),
}


def stages(content: str, site: str) -> dict[str, float]:
    """Seconds of CPU by stage; the rest is starting, importing and what lies between."""
    spent, running = dict.fromkeys([*_STAGES, "the rest"], 0.0), ["the rest"]
    last = [time.process_time()]

    def turn(stage: str | None) -> None:
        now = time.process_time()
        spent[running[-1]] += now - last[0]
        last[0] = now
        running.append(stage) if stage else running.pop()

    def timed(stage: str, work: Callable[..., Any]) -> Callable[..., Any]:
        def watched(*given: Any, **named: Any) -> Any:
            turn(stage)
            try:
                return work(*given, **named)
            finally:
                turn(None)

        return watched

    for stage, (module, name) in _STAGES.items():
        home = importlib.import_module(module)
        setattr(home, name, timed(stage, getattr(home, name)))
    from generator.__main__ import main

    os.environ["CORALLITE_FORGET"] = "1"
    if main(["build", f"--content={content}", f"--site={site}", "--as-of", AS_OF, "--quiet"]):
        raise SystemExit(1)
    turn("the rest")
    return spent


if __name__ == "__main__":
    with redirect_stdout(io.StringIO()):
        spent = stages(*sys.argv[1:])
    for stage, seconds in spent.items():
        print(f"{stage:30} {seconds:8.2f} s CPU")
