"""Look a GPX file (1.0 or 1.1) through before gpxpy reads it; any XML that is not one is refused.

gpxpy takes a web page for an empty track, a latitude of 999 for a place and prefixed names for nothing, and
deep nesting ends the process. So it is given only what was checked here, in a plain form.

One pass of the standard library's expat keeps the line number of every point, so that a complaint can
name it, and never expands an entity, so that a hostile file cannot grow. Prefixed names (`<g:gpx>`) and
unknown extensions are fine.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import groupby
from pathlib import Path
from typing import NamedTuple
from xml.parsers import expat
from xml.sax.saxutils import escape, quoteattr

from routesolar.errors import InputError
from routesolar.files.reading import printable
from routesolar.limits import limit_of

MAX_DEPTH = 64
_POINTS = frozenset({"trkpt", "rtept", "wpt"})
_LINES = frozenset({"trkseg", "rte"})  # each is one stroke of the pen
_TEXTS = frozenset({"ele", "time", "name"})
_TRUNCATED = frozenset(
    expat.errors.codes[message]
    for message in (
        expat.errors.XML_ERROR_NO_ELEMENTS,
        expat.errors.XML_ERROR_UNCLOSED_TOKEN,
        expat.errors.XML_ERROR_PARTIAL_CHAR,
        expat.errors.XML_ERROR_UNCLOSED_CDATA_SECTION,
    )
)
# Words that a file says of itself, by where they stand.
_SAID = ("metadata/keywords", "metadata/name", "trk/name", "rte/name")


@dataclass(slots=True)
class ScannedPoint:
    """One point as the file spells it; `stroke` counts the line (track segment or route) it belongs to."""

    kind: str
    line: int
    stroke: int
    latitude: str | None
    longitude: str | None
    texts: dict[str, str] = field(default_factory=dict)


class Scanned(NamedTuple):
    """A file's points in its own order, the keywords of its metadata, and its names by where they stand."""

    points: list[ScannedPoint]
    keywords: tuple[str, ...]
    names: dict[str, tuple[str, ...]]

    def title(self, line: str) -> str:
        """Return the one name of all lines of a kind ("trk", "rte"), else the file's; "" without."""
        for where in (f"{line}/name", "metadata/name"):
            named = set(self.names.get(where, ()))
            if len(named) == 1:
                return named.pop()
        return ""


def scan(content: bytes, path: Path, most_points: int) -> Scanned:
    """Return what is in the file; InputError naming the line where it is not GPX, or has too many points."""
    parser = expat.ParserCreate()
    reader = _Reader(parser, path, most_points)
    try:
        parser.Parse(content, True)
    except expat.ExpatError as error:
        raise InputError(f"{path}, line {error.lineno}: {_reason(error, parser, content, reader)}") from None
    except InputError:  # the reader's own refusal, which is a ValueError too
        raise
    except (LookupError, ValueError):  # Python knows no such encoding, or not one for single bytes
        raise InputError(f"{path}, line 1: unknown text encoding; save the file as UTF-8") from None
    keywords = ",".join(reader.said.pop("metadata/keywords", ()))
    return Scanned(
        reader.points,
        tuple(word.strip() for word in keywords.split(",") if word.strip()),
        {where: tuple(filter(None, map(printable, words))) for where, words in reader.said.items()},
    )


def plain_gpx(points: Iterable[ScannedPoint]) -> str:
    """Return checked points as the plainest GPX 1.1: waypoints, then one track with a segment a stroke."""
    waypoints, segments = [], []
    for (kind, _), stroke in groupby(points, key=lambda point: (point.kind, point.stroke)):
        if kind == "wpt":
            waypoints += [_plain_point("wpt", point) for point in stroke]
        else:
            segments.append(f"<trkseg>{''.join(_plain_point('trkpt', point) for point in stroke)}</trkseg>")
    track = f"<trk>{''.join(segments)}</trk>" if segments else ""
    head = '<gpx version="1.1" creator="routesolar" xmlns="http://www.topografix.com/GPX/1/1">'
    return f"{head}{''.join(waypoints)}{track}</gpx>"


def _plain_point(tag: str, point: ScannedPoint) -> str:
    where = f"lat={quoteattr((point.latitude or '').strip())} lon={quoteattr((point.longitude or '').strip())}"
    inner = "".join(
        f"<{name}>{escape(point.texts[name])}</{name}>"
        for name in ("ele", "time", "name")
        if point.texts.get(name)
    )
    return f"<{tag} {where}>{inner}</{tag}>"


def _reason(error: expat.ExpatError, parser: expat.XMLParserType, content: bytes, reader: "_Reader") -> str:
    index = parser.ErrorByteIndex
    if error.code in _TRUNCATED and reader.root is not None:
        return "the file ends in the middle; save or download it again"
    if reader.root is None:
        return "not a GPX file (it does not start as XML); export the track as GPX"
    if error.code == expat.errors.codes[expat.errors.XML_ERROR_INVALID_TOKEN] and content[index] >= 0x80:
        return "the text is not in the encoding the file declares; save it as UTF-8"
    return f"not well-formed XML ({expat.ErrorString(error.code)}); export the track again"


class _Reader:
    """Receives expat's events; keeps the open elements and the point being read."""

    def __init__(self, parser: expat.XMLParserType, path: Path, most_points: int) -> None:
        self.points: list[ScannedPoint] = []
        self.said: dict[str, list[str]] = {}
        self.root: str | None = None
        self._parser, self._path, self._most_points = parser, path, most_points
        self._open: list[str] = []
        self._prefix = ""
        self._point: ScannedPoint | None = None
        self._stroke = -1
        self._text: list[str] | None = None
        parser.buffer_text = True
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        parser.CharacterDataHandler = self._characters
        parser.StartDoctypeDeclHandler = self._doctype

    def _refuse(self, reason: str) -> InputError:
        return InputError(f"{self._path}, line {self._parser.CurrentLineNumber}: {reason}")

    def _doctype(self, name: str, *_: object) -> None:
        if name.lower() == "html":
            raise self._refuse("a web page, not a GPX file; download the track itself")
        raise self._refuse("a DOCTYPE has no place in a GPX file; export the track again")

    def _start(self, tag: str, attributes: dict[str, str]) -> None:
        if self.root is None:
            self._begin(tag)
        if len(self._open) >= MAX_DEPTH:
            raise self._refuse(f"elements are nested more than {MAX_DEPTH} deep; this is not a track")
        name = tag.removeprefix(self._prefix)
        parent = self._open[-1] if self._open else ""
        self._open.append(name)
        if name in _LINES:
            self._stroke += 1
        if name in _POINTS and (name == "wpt" or parent in _LINES):
            where = (attributes.get("lat"), attributes.get("lon"))
            self._point = ScannedPoint(name, self._parser.CurrentLineNumber, self._stroke, *where)
            self.points.append(self._point)
            if len(self.points) > self._most_points:
                raise self._refuse(
                    f"the trip's files have more than {limit_of('route points'):,} points; split them, or keep "
                    "every second point"
                )
        elif self._point is None:
            self._text = [] if "/".join(self._open[1:]) in _SAID else None
        elif name in _TEXTS and parent == self._point.kind:
            self._text = []

    def _begin(self, tag: str) -> None:
        prefix, colon, self.root = tag.rpartition(":")
        self._prefix = prefix + colon
        if self.root.lower() == "html":
            raise self._refuse("a web page, not a GPX file; download the track itself")
        if self.root != "gpx":
            raise self._refuse(f"not a GPX file but <{printable(tag, 40)}>; export the track as GPX")

    def _characters(self, text: str) -> None:
        if self._text is not None:
            self._text.append(text)

    def _end(self, tag: str) -> None:
        name = self._open.pop()
        if self._point is None:
            if self._text is not None:
                self.said.setdefault("/".join([*self._open[1:], name]), []).append("".join(self._text).strip())
                self._text = None
            return
        if name == self._point.kind:
            self._point = None
        elif self._text is not None and self._open[-1] == self._point.kind:
            self._point.texts[name] = "".join(self._text).strip()
            self._text = None
