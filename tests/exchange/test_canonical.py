"""Canonical JSON against its standard's own test data and a reference library."""

import hashlib
import json
import math
import struct

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from generator.exchange.document import canonical, digest

_SURROGATE_FREE = st.text(st.characters(exclude_categories=("Cs",)))
_NUMBERS = st.floats(allow_nan=False, allow_infinity=False) | st.integers(-(2**53) + 1, 2**53 - 1)
_JSON = st.recursive(
    st.none() | st.booleans() | _NUMBERS | _SURROGATE_FREE,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(_SURROGATE_FREE, inner, max_size=4),
    max_leaves=12,
)


@given(_JSON)
def test_the_reference_library_gives_the_same_bytes(value: object):
    assert canonical(value) == rfc8785.dumps(value)


# Source: RFC 8785 test data (json-canonicalization, testdata/input, Apache-2.0); the inputs are written down
# from memory, the digests of the expected outputs were read, so a wrong memory cannot pass.
VECTORS = {
    "arrays": ('[56,{"d":true,"10":null,"1":[]}]', "099601b171cafed97c333f8878d68e7f8c8f795412adb34b2fdcf0e7c7beac42"),
    "french": (
        '{"peach":"This sorting order","péché":"is wrong according to French","pêche":"but canonicalization MUST",'
        '"sin":"ignore locale"}',
        "d99d0ebdcb0033cb858cfa830ae46bc0fb3309413b271f1da828c89901a27ed5",
    ),
    "structures": (
        '{"1":{"f":{"f":"hi","F":5},"\\n":56.0},"10":{},"":"empty","a":{},"111":[{"e":"yes","E":"no"}],"A":{}}',
        "605f65004ec2db7692522a0852c22f1c989e036d547e88963d1a3143cf3195d5",
    ),
    "unicode": (
        '{"Unnormalized Unicode":"A\\u030a"}',
        "0d99aad92a125196ff887876643fd3206786a84ddce2cee52ba4ad256d2381d3",
    ),
    "values": (
        '{"numbers":[333333333.33333329,1E30,4.50,2e-3,0.000000000000000000000000001],'
        '"string":"\\u20ac$\\u000F\\u000aA\'\\u0042\\u0022\\u005c\\\\\\"\\/","literals":[null,true,false]}',
        "2d5e01a318d0f0879ab568c4be289c8b1f64ef8921a53c6277d5e069978baacb",
    ),
    "weird": (
        '{"\\u20ac":"Euro Sign","\\r":"Carriage Return","\\u000a":"Newline","1":"One","\\u0080":"Control\\u007f",'
        '"\\ud83d\\ude02":"Smiley","\\u00f6":"Latin Small Letter O With Diaeresis",'
        '"\\ufb33":"Hebrew Letter Dalet With Dagesh","</script>":"Browser Challenge"}',
        "6af595a9aa80110b964b4de3f82a05fa6ae7423005019bacfa2620dddc4e94d1",
    ),
}


@pytest.mark.parametrize("name", VECTORS)
def test_the_standards_own_vectors(name: str):
    text, expected = VECTORS[name]
    assert hashlib.sha256(canonical(json.loads(text))).hexdigest() == expected


# Source: RFC 8785, appendix B (IEEE 754 bits and their text); read by way of its test data, or from memory.
@pytest.mark.parametrize(
    ("bits", "text"),
    [
        ("0000000000000000", "0"),
        ("8000000000000000", "0"),
        ("0000000000000001", "5e-324"),
        ("8000000000000001", "-5e-324"),
        ("7fefffffffffffff", "1.7976931348623157e+308"),
        ("4340000000000000", "9007199254740992"),
        ("4430000000000000", "295147905179352830000"),
        ("44b52d02c7e14af5", "9.999999999999997e+22"),
        ("44b52d02c7e14af6", "1e+23"),
        ("44b52d02c7e14af7", "1.0000000000000001e+23"),
        ("444b1ae4d6e2ef4e", "999999999999999700000"),
        ("444b1ae4d6e2ef50", "1e+21"),
        ("3eb0c6f7a0b5ed8c", "9.999999999999997e-7"),
        ("3eb0c6f7a0b5ed8d", "0.000001"),
        ("41b3de4355555555", "333333333.3333333"),
        ("becbf647612f3696", "-0.0000033333333333333333"),
        ("43143ff3c1cb0959", "1424953923781206.2"),
    ],
)
def test_numbers_are_written_as_ecmascript_writes_them(bits: str, text: str):
    (value,) = struct.unpack(">d", bytes.fromhex(bits))
    assert canonical(value).decode() == text


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, 2**53, "\ud800", {1: 2}, {"a": object()}, b"x"])
def test_what_is_not_json_has_no_canonical_form(value: object):
    with pytest.raises(ValueError, match=r"."):
        canonical(value)


def test_the_digest_is_that_of_the_canonical_bytes():
    expected = hashlib.sha256(b'{"a":2,"b":1}').hexdigest()
    assert digest({"b": 1, "a": 2}) == f"sha256:{expected}"
