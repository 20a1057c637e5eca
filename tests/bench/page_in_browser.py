"""Review pages in a real browser: nothing asked, nothing wrong, all there, readable by anybody.

    python -m tests.bench.page_in_browser PAGE.html ... [--pictures FOLDER]

By hand, as no part of the environment: a Chromium (or FOREBAY_CHROMIUM=/path/of/it) and
`pip install playwright pypdfium2`; axe-core is among the npm packages of tests/tools.  Prints a
row a page and way of looking, and ends with 1 if anything is not as promised.
"""

import argparse
import os
import pathlib
import shutil
import sys

import playwright.sync_api as playwright  # pyright: ignore[reportMissingImports]
import pypdfium2  # pyright: ignore[reportMissingImports]

from tests.tools.npm import package_path

LEAST_TEXT_px, PHONE_px, DESK_px, HIGH_px = 11, 390, 1100, 900
LEAST_USED_FRAC = 0.15   # of the height of the last page: less is almost empty
DARK = 200               # grey levels below it are ink
WAYS = (("light", DESK_px, "light"), ("dark", DESK_px, "dark"), ("phone", PHONE_px, "light"),
        ("phone dark", PHONE_px, "dark"))
SMALLEST = """() => {
  let least = 99;
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const element = walker.currentNode.parentElement;
    if (!walker.currentNode.textContent.trim() || element.closest('script, style, noscript')) continue;
    least = Math.min(least, parseFloat(getComputedStyle(element).fontSize));
  }
  return least;
}"""  # noqa: E501
EMPTY_ROWS = """() => Object.keys(document.getElementById('plot')._fullLayout).filter(
  key => /^yaxis/.test(key)).filter(key => !document.getElementById('plot')._fullData.some(
    trace => 'y' + key.slice(5) === trace.yaxis)).length"""
TRACES = "() => [document.getElementById('plot')._fullData.length, JSON.parse(" \
         "document.getElementById('figure').textContent).traces.length]"


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("pages", nargs="+", type=pathlib.Path)
    parser.add_argument("--pictures", type=pathlib.Path)
    asked = parser.parse_args()
    program = os.environ.get("FOREBAY_CHROMIUM") or shutil.which("chromium")
    if not program:
        sys.exit("no Chromium: install one, or name it by FOREBAY_CHROMIUM")
    axe = (package_path("axe-core") / "axe.min.js").read_text(encoding="utf-8")
    wrong = 0
    with playwright.sync_playwright() as running:
        # Its sandbox needs what a container does not give; the page is our own.
        browser = running.chromium.launch(executable_path=program, args=["--no-sandbox"])
        for page in asked.pages:
            for name, width_px, scheme in WAYS:
                said = look(browser, page, name, width_px, scheme, axe, asked.pictures)
                print(f"{page.stem:14} {name:11} {'; '.join(said) or 'as promised'}")
                wrong += bool(said)
            said = printed(browser, page, asked.pictures)
            print(f"{page.stem:14} {'paper':11} {'; '.join(said) or 'as promised'}")
            wrong += bool(said)
        browser.close()
    return int(wrong > 0)


def opened(browser, path: pathlib.Path, width_px: int, scheme: str):
    """Returns (page, what went wrong or was asked for so far: it grows)."""
    found: list[str] = []
    url = path.resolve().as_uri()
    context = browser.new_context(viewport={"width": width_px, "height": HIGH_px},
                                  color_scheme=scheme, device_scale_factor=1)
    page = context.new_page()
    page.on("console", lambda one: found.append(f"console: {one.text}"))
    page.on("pageerror", lambda one: found.append(f"error: {one}"))
    page.on("request", lambda one: found.append(f"request: {one.url[:60]}")
            if one.url != url and not one.url.startswith("data:") else None)
    page.goto(url)
    page.wait_for_selector("#plot .main-svg")
    return page, found


def look(browser, path, name, width_px, scheme, axe, pictures) -> list[str]:
    """Returns what is not as promised in one way of looking."""
    page, found = opened(browser, path, width_px, scheme)
    drawn, told = page.evaluate(TRACES)
    if drawn != told:
        found.append(f"{drawn} of {told} curves")
    if page.evaluate(EMPTY_ROWS):
        found.append("an axis without a curve")
    least = page.evaluate(SMALLEST)
    if least < LEAST_TEXT_px:
        found.append(f"text of {least} px")
    if page.evaluate("document.documentElement.scrollWidth") > width_px:
        found.append("wider than the screen")
    found += hovered(page) + filtered(page)
    if pictures:
        pictures.mkdir(parents=True, exist_ok=True)
        page.screenshot(path=pictures / f"{path.stem}-{name.replace(' ', '-')}.png",
                        full_page=True)
    page.evaluate(axe)
    for one in page.evaluate("axe.run()")["violations"]:
        found.append(f"axe: {one['id']} ({len(one['nodes'])})")
    page.context.close()
    return found


def hovered(page) -> list[str]:
    """Returns whether what is under the pointer is told, in the middle of a curve."""
    page.evaluate("document.getElementById('plot').scrollIntoView()")
    box = page.locator("#plot").bounding_box()
    for step_px in range(0, 60, 10):  # a person's hand moves
        page.mouse.move(box["x"] + box["width"] / 2 + step_px, box["y"] + HIGH_px / 4)
    try:
        page.wait_for_selector("#plot .hoverlayer text", timeout=3000, state="attached")
    except playwright.TimeoutError:
        # On a phone only what is near is told.
        return [] if page.viewport_size["width"] == PHONE_px else ["hover tells nothing"]
    return []


def filtered(page) -> list[str]:
    """Returns whether events can be chosen by keyboard, in the plot and in the list."""
    box = page.locator("input[data-lane='2']")
    rows = page.locator("tr[data-lane='2']")
    before = rows.count() and rows.first.is_visible()
    box.focus()
    page.keyboard.press("Space")
    page.wait_for_function("() => !document.querySelector(\"input[data-lane='2']\").checked")
    hidden = not rows.count() or not rows.first.is_visible()
    gone = page.evaluate("() => document.getElementById('plot')._fullData.some("
                         "one => one.name === 'daily work' && one.visible === true)")
    page.keyboard.press("Space")
    return [] if hidden and not gone and (before or not rows.count()) else ["filter does nothing"]


def printed(browser, path, pictures) -> list[str]:
    """Returns what is wrong on paper: an almost empty page, or a plot that is cut."""
    page, found = opened(browser, path, DESK_px, "light")
    data = page.pdf(format="A4", print_background=False)
    width = page.evaluate(
        "document.querySelector('#plot .main-svg').getBoundingClientRect().width")
    page.context.close()
    document = pypdfium2.PdfDocument(data)
    pages = [document[place].render(scale=1).to_pil() for place in range(len(document))]
    last = pages[-1].convert("L").point(lambda level: 255 * (level < DARK)).getbbox()
    if not last or last[3] < LEAST_USED_FRAC * pages[-1].height:
        found.append(f"the last of {len(pages)} pages is almost empty")
    for place, picture in enumerate(pages, 1):
        if pictures:
            picture.save(pictures / f"{path.stem}-paper-{place}.png")
    if not pages or not width:
        found.append("no plot on paper")
    return found


if __name__ == "__main__":
    sys.exit(main())
