"""A written page taken apart: its elements, what stands in them, and whether it keeps to itself."""

import base64
import hashlib
import re
from html.parser import HTMLParser

import numpy as np

VOID = frozenset({"meta", "input", "br", "img", "link", "source"})


class Page(HTMLParser):
    """Every element with its attributes, and the text directly within each."""

    def __init__(self, html):
        super().__init__(convert_charrefs=True)
        self.elements, self.texts, self.open = [], [], []
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))
        self.texts.append([tag, ""])
        if tag not in VOID:
            self.open.append(len(self.texts) - 1)

    def handle_startendtag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))
        self.texts.append([tag, ""])

    def handle_endtag(self, tag):
        assert self.texts[self.open.pop()][0] == tag, "elements are nested as they were opened"

    def handle_data(self, data):
        if self.open:
            self.texts[self.open[-1]][1] += data

    def within(self, tag):
        return [text for kind, text in self.texts if kind == tag]

    def shown_in(self, tag):
        return [text.strip() for text in self.within(tag)]

    @property
    def skeleton(self):
        return [(tag, sorted(attrs)) for tag, attrs in self.elements]


def html_text(page):
    return " ".join(text for kind, text in page.texts if kind not in ("script", "style"))


def assert_self_contained(html, page):
    for tag, attributes in page.elements:
        assert tag not in ("link", "iframe", "object", "embed", "base", "form", "a")
        for name in ("src", "href", "action", "data", "poster", "srcset", "background"):
            assert attributes.get(name, "data:").startswith("data:"), (tag, attributes)
    for style in page.within("style"):
        assert "@import" not in style
        assert all(url.startswith(("data:", "#")) for url in re.findall(r"url\(['\"]?([^)'\"]+)", style))
    hosts = set(re.findall(r"https?://([^/\"'\s\\<)]+)", html))
    # A namespace, and the library's own name for itself in its comment and its (switched off) credit.
    assert hosts <= {"www.w3.org", "leafletjs.com"}
    assert "sourceMappingURL" not in html


def assert_policy_is_exact(page):
    policy = next(
        attributes["content"]
        for tag, attributes in page.elements
        if attributes.get("http-equiv") == "Content-Security-Policy"
    )
    rules = {rule.split()[0]: rule.split()[1:] for rule in policy.split("; ")}
    assert rules["default-src"] == ["'none'"]
    assert rules["img-src"] == ["data:"]
    assert "'unsafe-inline'" not in policy
    executed = page.within("script")[1:]  # the first holds data
    for kind, texts in (("script-src", executed), ("style-src", page.within("style"))):
        digests = [base64.b64encode(hashlib.sha256(text.encode()).digest()).decode() for text in texts]
        assert rules[kind] == ([f"'sha256-{digest}'" for digest in digests] or ["'none'"])
    for _, attributes in page.elements:
        assert "style" not in attributes
        assert not any(name.startswith("on") for name in attributes)


def unpacked(packed):
    return np.cumsum(packed["steps"]) / packed["scale"]
