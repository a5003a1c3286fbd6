"""Plain words: terms that were dropped for the field's or the trade's stay out of what users and developers read."""

import ast
import io
import re
import tokenize
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "simulator" / "pingwright"

#: Dropped word or phrase -> what stands instead (glossary in DEVELOPERS.md).
RETIRED = {
    r"\bparted\b|\bparts (a|every|some) (fish|\d)|\b(beam|one|element|them) parts\b": "separated, separates",
    r"\bquarr(y|ies)\b": "species",
    r"\bhaze\b": "scattering layer",
    r"\bsearched width\b": "swath",
    r"\bfalse rate\b": "false alarms",
    r"\bveils?\b": "absorbing school",
    r"\bsown\b": "sampled",
    r"\brolls the dice\b": "uses another random seed",
    r"\bsayings\b": "claim",
    r"\ba fault of ours\b|\bfault of our\b": "internal error",
    r"\bspares the machine\b": "limits CPU use",
    r"\bgrown together\b": "merged",
    r"\bis no (command|catalogue|element|scenario)\b": "unknown ...",
    r"\bput to the test\b": "tested by simulation",
    r"\bwhat a stop (leaves|left)\b": "checkpoint",
    r"\bovertones?\b": "harmonics",
    r"\bstarts it all the same\b": "runs it anyway",
    r"\bthe boat's way\b": "the track",
    r"\b(is|are|was|were|be) told\b(?! apart)|\btold (as|by|of|for|to|with)\b|\bas told\b": "reported, stated, shown",
    r"\bmay not be (read|written)\b": "permission denied",
    r"\bis no (plain|share|dotted|theme|number from)\b": "is not a ...",
    r"\bhardly meant\b": "probably a mistake",
    r"\bfor want of\b": "because there is no ...",
    r"\blest\b": "so that ... not",
    r"\bwithout further ado\b": "at once",
    r"\bwho hears whom\b": "which element receives which",
    r"\bin the circumstance\b": "under the conditions",
    r"\b(goes|going|gone|went) on (with|where|after)\b": "continues, resumes",
    r"\b(to|into) the test\b": "tests, tested",
    r"\b(panel|row|bar) an? element\b|\bone an element\b": "one ... for each element",
    r"\bin all the same\b|\bit all the same\b": "anyway",
    r"\b(leads?|lead) nowhere\b": "does not exist",
}  # fmt: skip

#: These name the words of the first edition on purpose.
EXEMPT = {"first_edition.py", "test_words.py"}

TEXTS = [
    *ROOT.glob("*.md"),
    *(ROOT / "scenarios").rglob("*.toml"),
    *(ROOT / "scenarios").rglob("*.ipynb"),
    *(path for kind in ("toml", "html", "js", "css", "md") for path in PACKAGE.rglob(f"*.{kind}")),
]
MODULES = [path for path in sorted(PACKAGE.rglob("*.py")) if path.name not in EXEMPT]


def prose_of(path: Path) -> str:
    """Comments and texts of a module, f-strings too; for other files all of it."""
    text = path.read_text(encoding="utf-8")
    if path.suffix != ".py":
        return text
    strings = [n.value for n in ast.walk(ast.parse(text)) if isinstance(n, ast.Constant) and isinstance(n.value, str)]
    comments = [t.string for t in tokenize.generate_tokens(io.StringIO(text).readline) if t.type == tokenize.COMMENT]
    return "\n".join(strings + comments)


FOLDERS = sorted({path.parent for path in TEXTS + MODULES})


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda p: str(p.relative_to(ROOT)))
def test_retired_words_stay_out(folder):
    for path in (one for one in TEXTS + MODULES if one.parent == folder):
        prose = " ".join(prose_of(path).split())
        for pattern, instead in RETIRED.items():
            found = re.search(pattern, prose, re.IGNORECASE)
            where = f"{path.name}: ...{prose[max(found.start() - 30, 0) : found.end() + 30]}..." if found else ""
            assert found is None, f"{where}: write {instead}"


def test_the_search_would_notice():
    assert any(re.search(pattern, "the fish is parted") for pattern in RETIRED)
