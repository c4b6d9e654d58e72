import pytest

from generator.nature.genera import GENERA, genus_meant, genus_name, genus_of


@pytest.mark.parametrize(
    ("species", "genus", "group"),
    [
        ("Acropora millepora", "Acropora", "stony"),
        ("Scolymia australis", "Homophyllia", "stony"),
        ("Symphyllia radians", "Lobophyllia", "stony"),
        ("Protopalythoa sp.", "Palythoa", "zoanthid"),
        ("Millepora alcicornis", "Millepora", "hydrocoral"),
    ],
)
def test_a_species_belongs_to_the_genus_that_is_accepted_today(species: str, genus: str, group: str):
    # Source: World Register of Marine Species (from memory).
    found = genus_of(species)
    assert found is not None
    assert (found.name, found.group) == (genus, group)


def test_a_slip_of_the_pen_has_a_genus_that_was_meant():
    assert genus_meant("Acropara") == "Acropora"
    assert genus_meant("pocilopora") == "Pocillopora"
    assert genus_meant("Symphyllia") == "Lobophyllia"
    assert genus_meant("Acropora") is None
    assert genus_meant("Zebrafish") is None
    assert genus_meant("") is None


def test_stony_coral_stands_in_appendix_ii_and_soft_coral_in_none():
    # Source: CITES Appendices, order Scleractinia, families Milleporidae, Helioporidae, Tubiporidae (from memory).
    listed = {name for name, genus in GENERA.items() if genus.appendix == "II"}
    assert {"Acropora", "Euphyllia", "Millepora", "Heliopora", "Tubipora"} <= listed
    assert not listed & {"Sinularia", "Zoanthus", "Ricordea", "Muricea"}


def test_only_coral_with_a_solid_skeleton_has_a_mineral():
    assert {genus.skeleton for genus in GENERA.values() if genus.group == "stony"} == {"aragonite"}
    assert GENERA["Tubipora"].skeleton == "calcite"
    assert GENERA["Sarcophyton"].skeleton == "none"


def test_a_genus_no_table_has_is_no_error():
    assert genus_of("Nemo piscis") is None
    assert genus_of("") is None
    assert genus_name("Nemo piscis") == "Nemo"


def test_no_former_name_is_also_an_accepted_one():
    former = [name for genus in GENERA.values() for name in genus.formerly]
    assert not set(former) & set(GENERA)
    assert len(former) == len(set(former))
