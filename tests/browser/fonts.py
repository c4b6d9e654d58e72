"""The fonts a page is measured in, whatever else a machine has: one narrow family, and one wide.

A browser of the tests sees nothing but the family it is launched with, by a FONTCONFIG_FILE of its own.
"""

from pathlib import Path

import pytest

_FOLDERS = ("/usr/share/fonts", "/usr/local/share/fonts", "~/.local/share/fonts", "~/.fonts")
# Family -> Debian's package, and the faces for text, headlines and lines of files.
FAMILIES = {
    "Liberation": ("fonts-liberation", ("LiberationSans", "LiberationSerif", "LiberationMono")),
    "DejaVu": ("fonts-dejavu-core", ("DejaVuSans", "DejaVuSerif", "DejaVuSansMono")),
}
_WEIGHTS = ("", "-Regular", "-Bold", "-Italic", "-BoldItalic")
_GENERIC = {
    "Sans": ("sans-serif", "system-ui"),
    "Serif": ("serif",),
    "Sans Mono": ("monospace",),
    "Mono": ("monospace",),
}


def only(family: str, folder: Path) -> Path:
    """A fontconfig file by which a program sees this family alone; the test is skipped where it is not installed."""
    package, faces = FAMILIES[family]
    wanted = {f"{face}{weight}.ttf" for face in faces for weight in _WEIGHTS}
    files = {
        file.name: file for place in _FOLDERS for file in Path(place).expanduser().rglob("*.ttf") if file.name in wanted
    }
    if not any(name.startswith(f"{faces[0]}") for name in files):
        pytest.skip(f"no {family} fonts, which layouts are measured in: install Debian's {package}")
    fonts = folder / "fonts"
    fonts.mkdir(parents=True)
    for name, file in files.items():
        (fonts / name).symlink_to(file)
    aliases = "".join(
        f"<alias><family>{generic}</family><prefer><family>{family} {style}</family></prefer></alias>"
        for style, names in _GENERIC.items()
        for generic in names
    )
    # What asks for no family by name, as a page in the system's own font does, gets the sans.
    default = (
        f'<match target="pattern"><edit name="family" mode="append_last"><string>{family} Sans</string></edit></match>'
    )
    config = folder / "fonts.conf"
    config.write_text(
        '<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "fonts.dtd">\n'
        f"<fontconfig><dir>{fonts}</dir><cachedir>{folder / 'cache'}</cachedir>{aliases}{default}</fontconfig>\n"
    )
    return config
