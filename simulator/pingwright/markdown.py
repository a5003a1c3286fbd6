"""A user's text inside Markdown: it is shown as typed, without any effect."""

import re

#: Characters with a meaning in Markdown, or in the maths that many Markdown readers support.
MARKS = "\\`*_[]#|$~"


def plain(text: str) -> str:
    """Return a user's text on one line, without anything that Markdown, HTML or a maths parser would read as markup."""
    text = text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    for mark in MARKS:
        text = text.replace(mark, f"\\{mark}")
    return " ".join(text.split())


def pasted(label: str, text: str) -> list[str]:
    """Return lines that show a label and an unchanged text: inside the fence nothing is read as markup.

    The fence is longer than any row of backticks in the text, so that none of them can close it.
    """
    longest = max((len(run) for run in re.findall("`+", text)), default=0)
    fence = "`" * max(3, longest + 1)
    return [f"{label}:", "", f"{fence}text", " ".join(text.split()), fence, ""]
