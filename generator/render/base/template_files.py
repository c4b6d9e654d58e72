"""Where the templates, the stylesheet and the words are: in the wheel, or in the checkout."""

from importlib.resources import files
from importlib.resources.abc import Traversable


def template_files() -> Traversable:
    """The folder of templates."""
    package = files("generator")
    shipped = package / "templates"
    return shipped if shipped.is_dir() else package / ".." / "templates"
