"""What journal.yaml may say: how others reach the keeper."""

import pytest
from pydantic import TypeAdapter, ValidationError

from generator.records.settings import Contact, way_to

READ = TypeAdapter(Contact).validate_python


@pytest.mark.parametrize(
    ("written", "way"),
    [
        ("ines@reef.example", "mailto:ines@reef.example"),
        ("https://reef.example/ines", "https://reef.example/ines"),
        ("at the harbour, Fridays", ""),
        ("Ines @ the harbour", ""),
        ("javascript:alert(1)", ""),
        ("data:text/html,<b>", ""),
        ("<b>ines</b>", ""),
    ],
)
def test_a_contact_leads_to_a_mailbox_or_by_https_and_else_is_words(written: str, way: str) -> None:
    assert way_to(READ(written)) == way


@pytest.mark.parametrize(
    "written",
    [
        "ines@reef",
        "ines@reef.example?bcc=all@others.example",
        "ines@reef.example,all@others.example",
        "mailto:ines@reef.example",
        '"ines"@reef.example',
        "http://reef.example/",
        "javascript://reef.example/%0aalert(1)",
        "https://ines@reef.example/",
        "https://reef.example/?to=ines",
    ],
)
def test_what_looks_like_an_address_and_is_none_is_a_mistake(written: str) -> None:
    with pytest.raises(ValidationError, match="is not an address"):
        READ(written)
