"""Style of the page: its text, and the tokens that both it and the tests read."""

from __future__ import annotations

from functools import cache
from importlib.resources import files

__all__ = ["TOKENS", "stylesheet"]

# name: (on light paper, on dark paper)
TOKENS = {
    "paper": ("#f6f5f0", "#171614"),
    "ink": ("#1b1a17", "#ece8de"),
    "ink2": ("#55514a", "#b9b3a6"),
    "rule": ("#cdc8bb", "#423f38"),
    "line": ("#857f72", "#857e71"),
    "hand": ("#57317f", "#bfa8ee"),
    "crank": ("#000000", "#f0ece2"),
    "intake": ("#0072b2", "#56b4e9"),
    "exhaust": ("#d55e00", "#e69f00"),
    "single": ("#009e73", "#009e73"),
}


@cache
def stylesheet() -> str:
    """The whole style sheet, tokens first, without comments and needless blanks."""
    light = "".join(f"--{name}:{pair[0]};" for name, pair in TOKENS.items())
    dark = "".join(f"--{name}:{pair[1]};" for name, pair in TOKENS.items())
    text = files("witnessmark.report").joinpath("style.css").read_text(encoding="utf-8")
    rules = [line.strip() for line in text.splitlines()]
    rules = [line for line in rules if line and not line.startswith("/*")]
    return (
        f":root{{color-scheme:light dark;{light}}}@media screen and (prefers-color-scheme:dark){{:root{{{dark}}}}}"
        + "\n".join(rules)
    )
