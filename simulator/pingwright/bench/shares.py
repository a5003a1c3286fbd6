"""The share of fish that are separated, over fresh passes, in numbers and in words."""

from typing import Any

from pingwright.measure import certainty


def share(hits: list[int], fish: list[int]) -> dict[str, Any]:
    """Return hits, fish, their share with its 95 % interval, and its words once enough passes are done.

    hits, fish: how many fish were separated, and how many there were, pass by pass.
    """
    result = certainty.over(hits, fish)
    shown: dict[str, Any] = {"hits": result.hits, "fish": result.fish, "value": result.value}
    if result.passes >= certainty.LEAST:
        shown |= {"low": result.low, "high": result.high, "text": _percent(result)}
    return shown


def _percent(found: certainty.Certainty) -> str:
    """Return the share in words; never 0 or 100 %, which no number of passes can show."""
    if found.hits == 0:
        return f"under {max(1, round(100 * found.high))} %"
    if found.hits == found.fish:
        return f"over {min(99, round(100 * found.low))} %"
    return f"{100 * found.value:.0f} % ({100 * found.low:.0f}\u2013{100 * found.high:.0f})"
