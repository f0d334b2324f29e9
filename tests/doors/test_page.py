"""How the page looks in a browser: nothing runs over the edge, words do not collide, everything is large enough."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.unit.report.builders import CASES
from tests.unit.report.engines import ENGINES, drawn_for
from tests.unit.report.logs import COLUMNS, EXPECTED, FOUR, made_up_log
from witnessmark.engine.library import find_engine, known_engines
from witnessmark.engine.types import Engine
from witnessmark.report import render_page
from witnessmark.report.drive.picture import draw
from witnessmark.report.logpage import render_log
from witnessmark.report.tokens import TOKENS, stylesheet

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser

WIDTHS = (360, 820, 1440)
DRAWN = [*ENGINES, *(known.name for known in known_engines())]

# Texts of each drawing that are shown: what leaves its picture, and which two collide. A pixel's touch is let pass.
COLLISIONS = """
svg => {
  const shown = [...svg.querySelectorAll('text')].filter(t => t.getClientRects().length && t.textContent.trim());
  const boxes = shown.map(t => {
    const b = t.getBoundingClientRect(), inset = b.height * .12;
    return {t: t.textContent, l: b.left, r: b.right, o: b.top + inset, u: b.bottom - inset};
  });
  const s = svg.getBoundingClientRect(), bad = [];
  for (const b of boxes)
    if (b.l < s.left - 1 || b.r > s.right + 1 || b.o < s.top - 1 || b.u > s.bottom + 1) bad.push(b.t + ' leaves');
  for (let i = 0; i < boxes.length; i++)
    for (let k = i + 1; k < boxes.length; k++) {
      const a = boxes[i], b = boxes[k];
      const over = Math.min(a.r, b.r) - Math.max(a.l, b.l), down = Math.min(a.u, b.u) - Math.max(a.o, b.o);
      if (over > 1 && down > 1) bad.push(a.t + ' / ' + b.t);
    }
  return bad;
}
"""

# Words that are shown smaller than they should be: on the page, in figures, and pin numbers in figures.
SMALL = """
([page, figure, pin]) => {
  const bad = [], walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const text = walk.currentNode.textContent.trim(), e = walk.currentNode.parentElement, svg = e.closest('svg');
    if (!text || !e.getClientRects().length) continue;
    const scale = svg ? svg.getBoundingClientRect().width / svg.viewBox.baseVal.width : 1;
    const size = parseFloat(getComputedStyle(e).fontSize) * scale;
    if (size < (!svg ? page : e.classList.contains('pn') ? pin : figure) - .1) bad.push([size, text]);
  }
  return bad;
}
"""


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("pages")
    found = {}
    for name, make in CASES.items():
        found[name] = folder / f"{name.replace(' ', '_')}.html"
        found[name].write_text(render_page(make()), encoding="utf-8")
    found["log"] = folder / "log.html"
    found["log"].write_text(render_log(made_up_log(), FOUR, EXPECTED, COLUMNS, assumed=("Usual.",)), encoding="utf-8")
    return found


@pytest.fixture
def sheet(browser: Browser) -> Iterator[Any]:
    """Opens a page at a width and in a scheme; fails if anything is fetched or complained of."""
    opened: list[Page] = []
    complaints: list[str] = []

    def open_page(path: Path, width: int, scheme: str = "light") -> Page:
        page = browser.new_page(viewport={"width": width, "height": 1000}, color_scheme=scheme)
        page.on("console", lambda message: complaints.append(message.text))
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on("request", lambda request: complaints.append(request.url) if request.url != path.as_uri() else None)
        page.goto(path.as_uri())
        opened.append(page)
        return page

    yield open_page
    for page in opened:
        page.close()
    assert not complaints


@pytest.mark.parametrize("width", WIDTHS)
def test_each_table_of_a_log_names_its_state(width: int, files: dict[str, Path], sheet: Any) -> None:
    page = sheet(files["log"], width)
    heads = page.evaluate(
        """() => [...document.querySelectorAll('table.forest')].map(t => {
             const c = t.caption.getBoundingClientRect();
             return [t.caption.textContent, c.height > 0 && c.width > 0.7 * t.getBoundingClientRect().width]})"""
    )
    assert [text.split(",")[0] for text, _ in heads] == ["Idle", "Cruising"]
    assert all(seen for _, seen in heads)


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", [*CASES, "log"])
def test_nothing_runs_over_the_edge(name: str, width: int, files: dict[str, Path], sheet: Any) -> None:
    page = sheet(files[name], width)
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    over = page.evaluate(
        """() => [...document.querySelectorAll('main *, header *, footer *')].filter(e => !e.closest('svg, .wide'))
           .filter(e => e.getClientRects().length && e.getBoundingClientRect().right > innerWidth + 1)
           .map(e => e.tagName + ' ' + e.textContent.slice(0, 40))"""
    )
    assert not over
    inner = page.evaluate(
        """() => [...document.querySelectorAll('td, .db, dd, li > span')].filter(e => e.clientWidth)
           .filter(e => e.scrollWidth > e.clientWidth + 1).map(e => e.textContent)"""
    )
    assert not inner


@pytest.mark.parametrize("name", [*CASES, "log"])
def test_words_in_figures_do_not_collide_under_any_cause(name: str, files: dict[str, Path], sheet: Any) -> None:
    page = sheet(files[name], 820)
    page.add_style_tag(content="*{transition:none!important}")
    looked_at = 0
    for i in range(max(1, page.locator(".play input").count())):
        if page.locator(".play input").count():
            page.locator(".play input").nth(i).check(force=True)
        for svg in page.query_selector_all(".wide svg"):
            looked_at += 1
            assert svg.evaluate(COLLISIONS) == []
    assert looked_at or name == "typed"


def drawings(tmp_path: Path) -> tuple[Path, list[str]]:
    """One page with the drawing of every drive there is, each with its five causes."""
    parts, rules, names = [], [], []
    for k, name in enumerate(DRAWN):
        engine: Engine = ENGINES[name]() if name in ENGINES else find_engine(name)
        if engine.drive is None:
            continue
        picture = draw(engine, engine.drive, drawn_for(engine))
        rules.append(picture.css.replace(".drv:has(#d", f".e{k}:has(.d").replace(":checked", ":checked"))
        inputs = "".join(f'<input type="radio" name="n{k}" class="d{i}">' for i in range(1, 6))
        parts.append(f'<div class="drv e{k}" style="width:732px">{inputs}{picture.svg}</div>')
        names.append(name)
    path = tmp_path / "drawings.html"
    style = f"{stylesheet()}{''.join(rules)}*{{transition:none!important}}"
    path.write_text(f'<!doctype html><meta charset="utf-8"><style>{style}</style>{"".join(parts)}', encoding="utf-8")
    return path, names


def test_words_keep_apart_in_the_drawing_of_every_drive(tmp_path: Path, sheet: Any) -> None:
    path, names = drawings(tmp_path)
    assert len(names) > 15
    page = sheet(path, 820)
    bad = {}
    for i in range(1, 6):
        page.evaluate(f"document.querySelectorAll('input.d{i}').forEach(e => e.checked = true)")
        for name, svg in zip(names, page.query_selector_all("svg"), strict=True):
            found = svg.evaluate(COLLISIONS)
            if found:
                bad[f"{name}, cause {i}"] = found
    assert not bad


def test_choosing_a_cause_moves_its_marks_and_shows_its_words(files: dict[str, Path], sheet: Any) -> None:
    page = sheet(files["seal"], 820)
    page.add_style_tag(content="*{transition:none!important}")

    def state() -> tuple[str, str, list[str]]:
        turned = [page.eval_on_selector(s, "e => getComputedStyle(e).transform") for s in (".w-crank", ".m-b1-intake")]
        words = page.eval_on_selector_all(
            "p.said.c", "all => all.filter(e => e.getClientRects().length).map(e => e.textContent)"
        )
        return turned[0], turned[1], words

    wheel, intake, words = state()
    assert wheel != "none"
    assert intake == "none"
    assert len(words) == 1
    assert words[0].startswith("Crank wheel slipped")
    page.get_by_label("Chain worn").check(force=True)
    wheel, intake, words = state()
    assert wheel == "none"
    assert intake != "none"
    assert words[0].startswith("Chain worn")


@pytest.mark.parametrize("width", WIDTHS)
def test_no_words_are_too_small(width: int, files: dict[str, Path], sheet: Any) -> None:
    """15 px on the page, 13 for pin numbers (the design sheet); on a telephone figures shrink to seven eighths."""
    page = sheet(files["seal"], width)
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    shrunk = 640 / 736 if width < 640 else 732 / 736
    assert not page.evaluate(SMALL, [15, 15 * shrunk, 13 * shrunk])


def test_words_that_collide_or_are_too_small_are_caught(tmp_path: Path, sheet: Any) -> None:
    path = tmp_path / "bad.html"
    words = '<text x="10" y="20">one</text><text x="20" y="22">two</text><text x="95" y="60">leaves</text>'
    path.write_text(
        f'<!doctype html><meta charset="utf-8"><svg width="100" height="80" viewBox="0 0 100 80">{words}</svg>'
    )
    page = sheet(path, 820)
    found = page.query_selector("svg").evaluate(COLLISIONS)
    assert found == ["leaves leaves", "one / two"]
    assert len(page.evaluate(SMALL, [15, 17, 13])) == 3


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", CASES)
def test_everything_to_touch_is_large_enough(name: str, width: int, files: dict[str, Path], sheet: Any) -> None:
    page = sheet(files[name], width)
    heights = page.eval_on_selector_all(
        "a, summary, .play label, button",
        "all => all.filter(e => e.getClientRects().length).map(e => [e.getBoundingClientRect().height, e.textContent])",
    )
    assert heights
    assert not [pair for pair in heights if pair[0] < 48]


@pytest.mark.parametrize(("scheme", "i"), [("light", 0), ("dark", 1)])
def test_it_wears_the_colours_of_its_scheme(scheme: str, i: int, files: dict[str, Path], sheet: Any) -> None:
    page = sheet(files["seal"], 820, scheme)

    def rgb(colour: str) -> str:
        return f"rgb({', '.join(str(int(colour[k : k + 2], 16)) for k in (1, 3, 5))})"

    style = "(e, name) => getComputedStyle(e)[name]"
    assert page.eval_on_selector("html", style, "backgroundColor") == rgb(TOKENS["paper"][i])
    assert page.eval_on_selector("body", style, "color") == rgb(TOKENS["ink"][i])
    assert page.eval_on_selector("td .w", style, "color") == rgb(TOKENS["hand"][i])
    assert page.eval_on_selector("path.tr.in", style, "stroke") == rgb(TOKENS["intake"][i])


def test_on_paper_it_is_black_without_controls_and_in_margins(files: dict[str, Path], sheet: Any) -> None:
    page = sheet(files["seal"], 820, "dark")
    page.emulate_media(media="print", color_scheme="dark")
    style = "(e, name) => getComputedStyle(e)[name]"
    assert page.eval_on_selector("html", style, "backgroundColor") == "rgb(255, 255, 255)"
    assert page.eval_on_selector("body", style, "color") == "rgb(0, 0, 0)"
    for selector in (".acts", ".play", "summary", "details.noprint"):
        assert page.eval_on_selector(selector, style, "display") == "none"
    # What is folded away on the screen is told on paper.
    assert page.eval_on_selector("details .also td", "e => e.checkVisibility({contentVisibilityAuto: true})")
    assert page.eval_on_selector(".haz", style, "display") != "none"


def test_the_margin_column_stands_beside_the_text_on_a_wide_screen(files: dict[str, Path], sheet: Any) -> None:
    page = sheet(files["seal"], 1440)
    main = page.locator("section .row > div").first.bounding_box()
    margin = page.locator("section aside").first.bounding_box()
    assert main is not None
    assert margin is not None
    assert round(main["width"]) == 732
    assert round(margin["width"]) == 296
    assert round(margin["x"] - main["x"] - main["width"]) == 52
    assert not page.query_selector_all("aside a, aside button, aside input, aside summary")
