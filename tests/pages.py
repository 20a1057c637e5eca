"""What tests ask of a page: its tags, its words, and whether its colours can be told apart."""

import re
from html.parser import HTMLParser

SCRIPT = re.compile(r"<script(?P<how>[^>]*)>(?P<text>.*?)</script>", re.DOTALL)


def without_scripts(text):
    """Returns a page without what its scripts hold."""
    return SCRIPT.sub("", text)


def scripts(text):
    """Returns (attributes, text) of each script in a page."""
    return [(found["how"], found["text"]) for found in SCRIPT.finditer(text)]


class Page(HTMLParser):
    """Notes the tags, their attributes and whether every one is closed."""

    VOID = {"meta", "link", "img", "br", "hr", "input"}

    def __init__(self, text):
        super().__init__()
        self.seen, self.open, self.words = [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.seen.append((tag, dict(attrs)))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.seen.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.words.append(data)


def contrast(one, other):
    """Returns the contrast ratio of WCAG 2.1."""
    def luminance(colour):
        digits = colour.lstrip("#")
        digits = "".join(d * 2 for d in digits) if len(digits) == 3 else digits
        parts = [int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4)]
        parts = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
        return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]

    bright, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (bright + 0.05) / (dark + 0.05)
