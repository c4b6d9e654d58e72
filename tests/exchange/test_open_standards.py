"""A record of origin read by libraries that know nothing of us: JSON-LD, SPARQL, JSON Schema."""

import copy
import json
from datetime import date
from pathlib import Path

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st
from rdflib import Graph, URIRef

from generator.exchange.document import Refused
from generator.exchange.reading import check_shape, context, read_document, schema
from tests.exchange.journals import ines_and_marta
from tests.exchange.reseal import Json, at, changed, steps, without

pytestmark = pytest.mark.filterwarnings("ignore::DeprecationWarning:rdflib")

VALIDATOR = jsonschema.Draft202012Validator(schema())


@pytest.fixture(scope="module")
def document(tmp_path_factory: pytest.TempPathFactory) -> Json:
    """A cutting of a cutting, after two hands."""
    ines, marta = ines_and_marta(tmp_path_factory.mktemp("keepers"))
    (there,) = marta.take_in(ines.hand_over("tide-lantern", date(2026, 5, 1), "--frags", "1"), date(2026, 5, 2))
    return json.loads(marta.hand_over(there, date(2026, 9, 1), "--frags", "1").read_bytes())


@pytest.fixture(scope="module")
def graph(document: Json) -> Graph:
    return Graph().parse(data=json.dumps(document), format="json-ld")


PREFIXES = """
PREFIX prov: <http://www.w3.org/ns/prov#>
PREFIX dwc: <http://rs.tdwg.org/dwc/terms/>
PREFIX schema: <https://schema.org/>
"""


def test_sparql_answers_the_ancestors(document: Json, graph: Graph):
    record = read_document(json.dumps(document).encode())
    youngest = record.chain(record.last.about[0])[0]
    found = graph.query(PREFIXES + f"SELECT ?who WHERE {{ <{youngest.identity}> prov:wasDerivedFrom+ ?who }}")
    expected = {each.identity for each in record.records.values()} - {youngest.identity}
    assert len(expected) == 2
    assert {str(row[0]) for row in found} == expected


def test_sparql_answers_the_hands(graph: Graph):
    found = graph.query(
        PREFIXES
        + "SELECT ?name WHERE { ?coral a dwc:Organism ; prov:wasAttributedTo [ a prov:Agent ; schema:name ?name ] }"
    )
    assert {str(row[0]) for row in found} == {"ines", "marta"}


def test_darwin_core_tells_name_place_basis_and_captivity(graph: Graph):
    found = graph.query(
        PREFIXES
        + """SELECT ?coral ?place WHERE {
          ?coral a prov:Entity ; dwc:organismName "Tide Lantern" ; dwc:scientificName "Acropora millepora" ;
            dwc:basisOfRecord "LivingSpecimen" ; dwc:degreeOfEstablishment "captive" ;
            dwc:locality ?place ; dwc:year 2018 . }"""
    )
    assert {str(row[1]) for row in found} == {"Moluccas"}


def test_every_cutting_is_an_activity_with_its_day(graph: Graph):
    found = graph.query(
        PREFIXES
        + "SELECT ?day WHERE { ?coral prov:wasGeneratedBy [ a prov:Activity ; dwc:eventDate ?day ] } ORDER BY ?day"
    )
    assert [row[0].toPython() for row in found] == [date(2026, 5, 1), date(2026, 9, 1)]


def test_every_name_in_the_record_is_a_term_of_the_context(document: Json):
    names = {path[-1] for path in steps(without(document, ("@context",))) if isinstance(path[-1], str)}
    assert names <= set(context())


def test_the_context_uses_the_standards_own_terms(graph: Graph):
    from rdflib.namespace import PROV

    used = {str(term) for triple in graph for term in triple if isinstance(term, URIRef)}
    for term in (term for term in used if term.startswith(str(PROV))):
        assert PROV[term.removeprefix(str(PROV))]  # rdflib knows the vocabulary and refuses what is not in it


def test_the_schema_is_one(document: Json):
    jsonschema.Draft202012Validator.check_schema(schema())
    VALIDATOR.validate(document)


def test_the_context_and_the_schema_are_shipped_with_the_package():
    folder = Path(__file__).parents[2] / "generator/exchange"
    assert json.loads((folder / "context.json").read_text()) == context()
    assert json.loads((folder / "record_of_origin.schema.json").read_text()) == schema()


def agrees(value: Json) -> bool:
    """Whether our reading of the schema and the library's come to the same."""
    try:
        check_shape(value)
        ours = True
    except Refused:
        ours = False
    return ours == VALIDATOR.is_valid(value)


def test_our_check_agrees_with_the_library_when_a_part_is_missing_or_added(document: Json):
    for path in steps(without(document, ("@context",))):
        if isinstance(path[-1], str):
            assert agrees(without(document, path)), path
            more = copy.deepcopy(document)
            at(more, path[:-1])["more"] = 1
            assert agrees(more), path


@given(st.data())
def test_our_check_agrees_with_the_library_whatever_stands_there(document: Json, data: st.DataObject):
    path = data.draw(st.sampled_from(steps(document)))
    words = st.sampled_from(["W", "II", "Acropora sp.", "2026-02-30", "x" * 130, "=1", "<b>", "urn:uuid:1", "a\nb"])
    scalars = st.one_of(st.none(), st.booleans(), st.integers(1700, 2300), st.floats(0.5, 2.5), words, st.text())
    value = data.draw(
        st.one_of(scalars, st.lists(scalars, max_size=3), st.dictionaries(st.text(), scalars, max_size=2))
    )
    # JSON Schema counts 1.0 an integer, and a line end before the end of a text is no part of its pattern here.
    if (isinstance(value, float) and value.is_integer()) or "\n" in json.dumps(value).replace("\\n", "\n"):
        return
    assert agrees(changed(document, path, value))
