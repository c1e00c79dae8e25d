"""Text that came from a file, made safe to show on one line."""

import unicodedata

# Cc control (escape sequences, line breaks, tabs), Cf format (writing-direction overrides, zero width),
# Cs lone surrogates, Zl and Zp line and paragraph separators.
_NOT_SHOWN = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})
_NO_LETTERS = frozenset("\ufffe\uffff")  # no XML may hold them


def printable(text: str) -> str:
    """Return `text` on one line: what is not to be seen becomes a space, runs of spaces become one.

    Safe against terminal escapes, writing-direction overrides and line breaks. It does not escape
    markup: whoever writes HTML or XML still does.
    """
    if not (text.isascii() and text.isprintable()):  # plain text, as most is, need not be looked through
        text = "".join(letter if _is_shown(letter) else " " for letter in text)
    return " ".join(text.split())


def _is_shown(letter: str) -> bool:
    return unicodedata.category(letter) not in _NOT_SHOWN and letter not in _NO_LETTERS
