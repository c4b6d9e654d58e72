"""Assets carry a digest in their name."""

from pathlib import Path

from generator.publish.assets import assets_in


def test_a_stylesheet_that_changes_gets_another_address_and_the_rest_keep_theirs(tmp_path: Path) -> None:
    (tmp_path / "scripts").mkdir()
    (tmp_path / "style.css").write_text("a {}")
    (tmp_path / "scripts" / "x.js").write_text("1")
    (tmp_path / "LICENSES.txt").write_text("free")
    (tmp_path / ".DS_Store").write_text("no")
    before = assets_in(tmp_path)
    (tmp_path / "style.css").write_text("b {}")
    after = assets_in(tmp_path)
    assert before.addresses["style.css"] != after.addresses["style.css"]
    assert before.addresses["scripts/x.js"] == after.addresses["scripts/x.js"]
    assert after.addresses["LICENSES.txt"] == "assets/LICENSES.txt"
    assert set(after.files) == set(after.addresses.values())
    assert after.files[after.addresses["style.css"]] == b"b{}"
    assert set(after.addresses) == {"style.css", "scripts/x.js", "LICENSES.txt"}


def test_a_stylesheet_travels_without_remarks_and_means_the_same(tmp_path: Path) -> None:
    (tmp_path / "style.css").write_text(
        "/* why */\na :is(b, i) > u { color: red;  margin: 0 1px; }\n"
        '@media (min-width: 4rem) {\n  p::before { content: "? "; }\n}\n'
    )
    made = assets_in(tmp_path)
    assert made.files[made.addresses["style.css"]] == (
        b'a :is(b,i) > u{color:red;margin:0 1px}@media (min-width:4rem){p::before{content:"? "}}'
    )


def test_what_a_stylesheet_writes_on_the_page_stays_as_it_is(tmp_path: Path) -> None:
    (tmp_path / "style.css").write_text('/* the "list" */ li::after { content: " ;  a: {b} /* c */"; }\n')
    made = assets_in(tmp_path)
    assert made.files[made.addresses["style.css"]] == b'li::after{content:" ;  a: {b} /* c */"}'
