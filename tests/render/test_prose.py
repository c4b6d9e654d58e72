"""Markdown as keepers write it."""

from generator.records.source import Source
from generator.render.base.prose import Copy, Dead, Hidden, PhotoCopies, Prose, Surroundings, photos_in, to_html
from generator.render.base.words import words_of

PICTURES = {"photos/a.jpg": PhotoCopies((Copy("photos/a-480.webp", 480, 320), Copy("photos/a-960.webp", 960, 640)))}


def read(markdown: str) -> Prose:
    def resolve(kind: str, id: str) -> str | Dead | Hidden:
        if kind not in ("coral", "system"):
            return Dead(f"no {kind}:", "write coral:")
        if id == "secret":
            return Hidden()
        return f"../corals/{id}.html" if id in ("tide", "tide-2") else Dead(f"no coral {id}", "did you mean tide?")

    names = {"Tide": (("Tide Lantern 2", "tide-2"), ("Tide Lantern", "tide"))}
    around = Surroundings(resolve, PICTURES, names, lambda address: f"../{address}", words_of("en"))
    return to_html(markdown, Source("entries/x.md", 5), around)


def test_a_link_of_our_own_leads_to_the_page() -> None:
    assert read("[it](coral:tide)").html == '<p><a href="../corals/tide.html">it</a></p>\n'


def test_a_dead_link_keeps_its_words_and_is_told_by_line() -> None:
    told = read("one\n\ntwo [a](coral:tyde)\nthree [b](coral:x)")
    assert told.html == "<p>one</p>\n<p>two a\nthree b</p>\n"
    assert [str(problem.source) for problem in told.problems] == ["entries/x.md:7", "entries/x.md:8"]


def test_a_hidden_link_keeps_its_words_without_a_problem() -> None:
    told = read("[secret *one*](coral:secret) and [it](coral:tide)")
    assert told.problems == ()
    assert told.html == '<p>secret <em>one</em> and <a href="../corals/tide.html">it</a></p>\n'


def test_links_that_may_leave_are_few() -> None:
    told = read(
        "[a](https://example.org) <b@example.org>\n[c](http://x.org) [d](//x.org) [e](data:text/html,x) [f](file.md)"
    )
    assert 'href="https://example.org" rel="nofollow noopener noreferrer"' in told.html
    assert 'href="mailto:b@example.org"' in told.html
    assert told.html.count("href=") == 2
    assert len(told.problems) == 4


def test_a_link_within_the_text_and_a_footnote_without_its_text_are_dead() -> None:
    told = read("see [below](#saw)\nand [^2] there[^1]\n\n[^1]: Here.")
    assert [str(problem.source) for problem in told.problems] == ["entries/x.md:5", "entries/x.md:6"]
    assert "'[^2]'" in told.problems[1].wrong
    assert read("`[^2]`").problems == ()


def test_raw_html_is_text() -> None:
    assert read("<b onclick=x>hi</b>").html == "<p>&lt;b onclick=x&gt;hi&lt;/b&gt;</p>\n"


def test_a_tables_alignment_is_a_class() -> None:
    html = read("| a | b |\n|---|--:|\n| 1 | 2 |").html
    assert '<td class="align-right">2</td>' in html
    assert "style" not in html


def test_a_picture_has_its_copies_its_size_and_its_words() -> None:
    html = read("![green *tips*](photos/a.jpg)").html
    assert 'src="../photos/a-960.webp"' in html
    assert 'srcset="../photos/a-480.webp 480w, ../photos/a-960.webp 960w"' in html
    assert 'alt="green tips" width="960" height="640"' in html


def test_a_picture_from_elsewhere_is_a_problem() -> None:
    told = read("![x](https://example.org/a.jpg)")
    assert "example.org" not in told.html
    assert [problem.source.line for problem in told.problems] == [5]


def test_a_picture_nobody_described_is_told_by_its_name() -> None:
    told = read("![ ](photos/a.jpg)")
    assert 'alt="a: a photo that nobody described"' in told.html
    assert told.problems == ()


def test_a_texts_headings_stand_below_the_pages_own() -> None:
    assert read("# A\n\n###### F").html == "<h2>A</h2>\n<h6>F</h6>\n"


def test_the_photos_of_a_text_are_known_before_it_is_drawn() -> None:
    assert photos_in("![a](photos/a.jpg) and ![b](b.png)") == ("photos/a.jpg", "photos/b.png")


def test_a_coral_named_in_a_text_links_itself_the_first_time_and_not_within_a_link() -> None:
    told = read("Tide Lantern 2 and Tide Lantern, and Tide Lantern again; Tide Lanterns are many.")
    assert told.html.startswith(
        '<p><a href="../corals/tide-2.html">Tide Lantern 2</a> and <a href="../corals/tide.html">Tide Lantern</a>, and'
    )
    assert told.html.count("<a ") == 2
    assert read("[of Tide Lantern](coral:tide-2)").html.count("<a ") == 1
    assert read("see [it](coral:tide), that is Tide Lantern").html.count("<a ") == 1
    assert read("`Tide Lantern`").html.count("<a ") == 0


def test_a_footnote_leads_there_and_back() -> None:
    told = read("Cut.[^1]\n\n[^1]: With [a saw](coral:tide).").html
    assert '<a href="#fn1" id="fnref1">' in told
    assert '<ol class="footnotes">\n<li id="fn1"' in told
    assert '<a href="../corals/tide.html">a saw</a>' in told
    assert '<a href="#fnref1" aria-label="Back to footnote 1 in the text">' in told


def test_a_task_shows_a_box_and_says_whether_it_is_done() -> None:
    told = read("- [ ] glue\n- [x] cut\n- [y] plain").html
    assert told.count('<li class="task">') == 2
    assert '<span role="img" aria-label="to do">☐</span> glue' in told
    assert '<span role="img" aria-label="done">☑</span> cut' in told
    assert "<li>[y] plain</li>" in told


def test_a_picture_with_a_title_stands_alone_with_its_caption() -> None:
    told = read('![a coral](photos/a.jpg "The *cut*, after a week")').html
    assert told.startswith('<figure><img src="../photos/a-960.webp"')
    assert told.endswith("<figcaption>The *cut*, after a week</figcaption></figure>\n")
