"""A user's text in Markdown: it is shown as it stands and does nothing."""


def plain(text: str) -> str:
    """Return a user's text without marks that Markdown or HTML would act on."""
    return "".join(f"\\{c}" if c in "\\`*_[]<>#" else c for c in text)


def cell(text: str) -> str:
    """Return a user's text for a cell of a table."""
    return plain(text).replace("|", "\\|")
