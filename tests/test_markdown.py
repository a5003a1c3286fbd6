"""A user's text in Markdown does nothing: judged by a reader of HTML, and by the marks of CommonMark."""

from html.parser import HTMLParser

import pytest
from pingwright.markdown import pasted, plain

HOSTILE = [
    "<script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    "[click](javascript:alert(1))",
    "![p](http://a.example/x.png)",
    "**bold** _it_ `code` ~~gone~~",
    "$\\frac{1}{2}$ and $$x$$",
    "a | b",
    "# heading",
    "&lt;b&gt;",
    "```\nfence\n```",
    "line\n\n# next",
]


class Tags(HTMLParser):
    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.tags, self.text = [], ""

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)

    def handle_data(self, data):
        self.text += data


@pytest.mark.parametrize("text", HOSTILE)
def test_nothing_of_a_text_is_markup_and_all_of_it_is_shown(text):
    told = plain(text)
    parser = Tags()
    parser.feed(told)
    parser.close()
    assert parser.tags == []
    assert "\n" not in told
    # CommonMark 0.30, section 2.4: a backslash before ASCII punctuation shows that sign and takes its meaning away.
    shown, bare, signs = "", "", iter(parser.text)
    for sign in signs:
        if sign == "\\":
            shown += next(signs)
        else:
            shown += sign
            bare += sign
    assert shown == " ".join(text.split())
    assert not set(bare) & set("`*_[]#|$~\\")


@pytest.mark.parametrize("text", HOSTILE)
def test_what_is_pasted_stays_inside_its_fence(text):
    _, _, opening, shown, closing, _ = pasted("Caption", text)
    assert shown == " ".join(text.split())
    # CommonMark 0.30, section 4.5: a fence is closed by one at least as long.
    assert opening == f"{closing}text"
    assert set(closing) == {"`"}
    assert len(closing) >= 3
    assert closing not in shown
