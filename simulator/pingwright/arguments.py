"""Reads the values of command line options: a text in, its value out, or an error that says what is allowed."""

import argparse
import os
import re
from pathlib import Path
from typing import Any

#: The longest name of a file or folder, and the longest path, that file systems take [bytes].
MOST_NAME, MOST_PATH = 255, 4095


def positive(text: str) -> int:
    """Return a whole number from 1 to 1024, for options that count (threads)."""
    return _whole(text, 1, 1024, "a whole number from 1 to 1024")


def port(text: str) -> int:
    """Return a port of this machine, 1 to 65535, or 0 for any free one."""
    return _whole(text, 0, 65535, "a port from 0 to 65535")


def passes(text: str) -> int:
    """Return a number of passes."""
    return _whole(text, 1, 4096, "a whole number from 1 to 4096")


def seed(text: str) -> int:
    """Return a seed, 0 to 2^63 - 1."""
    return _whole(text, 0, 2**63 - 1, "a whole number from 0 to 2^63 - 1")


def _whole(text: str, low: int, high: int, words: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < 20 and low <= int(text) <= high):
        message = f"{text[:40]!r} is not {words}"
        raise argparse.ArgumentTypeError(message)
    return int(text)


def path(text: str) -> Path:
    """Return a path that is possible on this system."""
    try:
        usable = bool(text) and b"\0" not in os.fsencode(text)
    except ValueError:
        usable = False
    if not usable:
        message = "this is not a possible file name"
        raise argparse.ArgumentTypeError(message)
    longest = max(len(os.fsencode(part)) for part in text.split(os.sep))
    if longest > MOST_NAME or len(os.fsencode(text)) > MOST_PATH:
        message = (
            f"found a name of {longest} bytes in a path of {len(os.fsencode(text))}; allowed: {MOST_NAME} bytes for a"
            f" name, {MOST_PATH} for the whole path"
        )
        raise argparse.ArgumentTypeError(message)
    return Path(text)


def words(text: str) -> str:
    """Return a text of one line for a picture."""
    if not text.strip() or len(text) > 200 or not text.isprintable():
        message = "the text is empty, longer than 200 characters or has more than one line"
        raise argparse.ArgumentTypeError(message)
    return text


def span(text: str) -> tuple[float, float]:
    """Return the two lengths [m] of A..B; a unit at the end holds for both, as in "10..30 ft"."""
    from pingwright.quantities import LENGTH, QuantityError, check, split

    parts = text.split("..")
    try:
        if len(parts) == 2 and isinstance(_number(parts[0]), float) and isinstance(_number(parts[1]), str):
            parts[0] += f" {split(parts[1])[1]}"
        low, high = (check(_number(part), LENGTH, -1e5, 1e5) for part in parts)
    except QuantityError as error:
        raise argparse.ArgumentTypeError(str(error)) from None
    except ValueError:
        low = high = 0.0
    if len(parts) != 2 or not low < high:
        message = f'found {text[:40]!r}; allowed: two lengths, the smaller first, such as "10 m..20 m" or "30..60 ft"'
        raise argparse.ArgumentTypeError(message)
    return low, high


def _number(text: str) -> float | str:
    """Return a text that is a number as a float, any other text unchanged."""
    try:
        return float(text)
    except ValueError:
        return text


def setting(text: str) -> tuple[str, Any]:
    """Return the key and value of KEY=VALUE."""
    from pingwright.inputs.changing import ChangeError
    from pingwright.inputs.changing import setting as read

    try:
        return read(text)
    except ChangeError as error:
        raise argparse.ArgumentTypeError(str(error)) from None


def share(text: str) -> tuple[int, int]:
    """Return the number of the share and the number of shares, as in "2/8", for `--job`."""
    match = re.fullmatch(r"([0-9]{1,6})/([0-9]{1,6})", text)
    if not match or not 1 <= int(match[1]) <= int(match[2]):
        message = f"{text[:40]!r} is not a share; allowed: K/N with K from 1 to N, as in 2/8"
        raise argparse.ArgumentTypeError(message)
    return int(match[1]), int(match[2])
