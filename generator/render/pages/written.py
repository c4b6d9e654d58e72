"""When a record's files were written and changed, by git: a line at the foot of its page."""

from dataclasses import replace

from generator.records.history import Commit
from generator.render.base.blocks import Paragraph
from generator.render.base.context import PageContext
from generator.render.base.page import Page

# The kinds of page that show one record.
_RECORDS = ("coral", "system", "entry", "trade", "sheet")


def with_history(ctx: PageContext, page: Page, file: str) -> Page:
    """A page with its record's history below, if this audience may see it; `file` is the record's."""
    if ctx.view.history is None or page.kind not in _RECORDS:
        return page
    return replace(page, blocks=(*page.blocks, Paragraph(_told(ctx, file), "note written")))


def _told(ctx: PageContext, file: str) -> str:
    words, history = ctx.words, ctx.view.history
    assert history is not None
    if history.unknown:
        return words("history.cannot", why=words(f"history.unknown.{history.unknown}"))
    files = [path for path in history.commits if _belongs(path, file)]
    made: list[Commit] = [each for path in files for each in history.commits[path] if each.at <= ctx.as_of]
    made.sort(key=lambda commit: commit.at)
    cut_off = any(path in history.cut_off for path in files)
    changed = any(path in history.uncommitted for path in files)
    if not files:
        return words("history.new")
    if not made and not cut_off:
        return ""
    names = ", ".join(dict.fromkeys(each.by for each in made if each.by))
    days = [ctx.say.date(each.at) for each in made]
    said = [
        words("history.cut_off") if cut_off else words("history.written", day=days[0]),
        words("history.changed", day=days[-1]) if days[-1:] != ([] if cut_off else days[:1]) else "",
        words("history.by", names=names) if names else "",
        words("history.uncommitted") if changed else "",
    ]
    return f"{', '.join(filter(None, said))}."


def _belongs(path: str, file: str) -> bool:
    """Whether a file is a record's own: its file, its story, or one of its system's logs."""
    stem = file.rpartition(".")[0]
    logs = f"logs/{stem.removeprefix('systems/')}/" if stem.startswith("systems/") else "\0"
    return path in (file, f"{stem}.md") or path.startswith(logs)
