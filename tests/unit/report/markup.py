"""Reading a page back: its elements, its words, its ids."""

from __future__ import annotations

import re
from html.parser import HTMLParser

VOID = {"meta", "input", "br", "link", "img", "hr"}
# Elements of SVG that are written closed in themselves.
CLOSED = {"path", "rect", "circle"}


class Reader(HTMLParser):
    """Fails on a tag that is not closed in its turn; keeps attributes and words."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.faults: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        names = [name for name, _ in attrs]
        if len(names) != len(set(names)):
            self.faults.append(f"<{tag}> has an attribute twice")
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in CLOSED | VOID:
            self.faults.append(f"<{tag}/> is not closed by that")

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open.pop() != tag:
            self.faults.append(f"</{tag}> closes nothing at {self.getpos()}")

    def handle_data(self, data: str) -> None:
        if not self.open or self.open[-1] != "style":
            self.words.append(data)

    @property
    def text(self) -> str:
        return re.sub(r"\s+", " ", " ".join(self.words))

    def values(self, name: str) -> list[str]:
        return [value for _, attrs in self.tags if (value := attrs.get(name)) is not None]


def read(page: str) -> Reader:
    reader = Reader()
    reader.feed(page)
    reader.close()
    return reader


def number_of(text: str) -> float:
    """A printed number, minus signs and all."""
    return float(text.replace("\N{MINUS SIGN}", "-").replace("+", ""))
