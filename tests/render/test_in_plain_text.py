"""Blocks as lines of plain text: all that is said, without evidence and pictures."""

from markupsafe import Markup

from generator.render.base.blocks import Figure, Fold, Paragraph, Picture, Table, facts, figures, group, items, section
from generator.render.base.links import Cannot, joined, small
from generator.render.base.numbers import Shown
from generator.render.base.page import lines


def test_a_section_is_its_title_and_what_is_in_it_set_in() -> None:
    inner = section("Light", items("180 PAR", "207 PAR"))
    said = lines((section("Place", group("", Paragraph("a < b")), inner, section("Nothing", items())),))
    assert list(said) == ["", "Place", "  a < b", "", "  Light", "    180 PAR", "    207 PAR"]


def test_a_row_names_each_cell_that_says_something() -> None:
    name, broken = joined("soda", small("60 g/L")), joined("a", "b", by=Markup("<br>"))
    table = Table("", ("Solution", "Now", "Then", "Why"), ((name, "40 mL", "", broken),))
    assert list(lines((table, facts(("Size", "5 cm"))))) == ["soda, 60 g/L: Now: 40 mL; Why: a; b", "Size: 5 cm"]


def test_a_number_has_its_interval_or_why_it_cannot_be_told() -> None:
    known = Figure("Mass", Shown("4 kg", "likely 2 to 11 kg"), None, None)
    unknown = Figure("Age", None, None, Cannot("Nobody wrote it.", "Write it.", "Cannot tell:"))
    assert list(lines((figures(known, unknown),))) == [
        "Mass: 4 kg, likely 2 to 11 kg",
        "Age: Cannot tell: Nobody wrote it. Write it.",
    ]


def test_evidence_and_pictures_are_for_pages() -> None:
    assert not list(lines((Fold("Why", (Paragraph("x"),)), Picture(Markup("<svg></svg>")), None)))
