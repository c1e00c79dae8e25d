"""What the rasters and maps of the session's folder are used as by its trip."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

from routesolar.errors import UsageError
from routesolar.files.reading import printable
from routesolar.files.stated import Stated
from routesolar.plan.receiving import KINDS, ending_of

USES = {"cover": "canopy", "height": "canopy_height", "terrain": "terrain", "map": "map"}
# Words in names of rasters that tell what they show.
_TOLD_BY = {
    "height": ("height", "tall", "chm"),
    "cover": ("cover", "canopy", "trees", "tcd"),
    "terrain": ("terrain", "elevation", "ground", "dem", "dtm", "hills"),
}


def usual_use(name: str) -> str:
    """Return what a file is most likely used as, by its name; empty where that tells nothing."""
    what = KINDS[ending_of(name)].what
    if what != "raster":
        return what if what == "map" else ""
    words = name.lower()
    return next((use for use, told in _TOLD_BY.items() if any(word in words for word in told)), "")


def files_stated(said: Any, path: Callable[[str], Path]) -> dict[str, Any]:
    """Return rasters and maps as a trip states them, from a list of names and uses; "" is kept and not used.

    Raises:
        UsageError: the list is none, a use is not known, or two rasters are to tell heights.
    """
    if not isinstance(said, list) or len(said) > 50:
        raise UsageError("the page sent something else than a list of files")
    used: dict[str, list[str]] = {use: [] for use in USES}
    for one in said:
        use = one.get("as") if isinstance(one, dict) else None
        if use == "":
            continue
        if use not in used:
            raise UsageError("the page sent something else than a file and its use")
        used[use].append(str(path(one.get("name"))))
    if len(used["height"]) > 1:
        raise UsageError("two rasters are to tell the trees' height; choose one")
    return {
        "canopy": tuple(used["cover"]),
        "canopy_height": next(iter(used["height"]), None),
        "terrain": tuple(used["terrain"]),
        "map": tuple(used["map"]),
    }


def files_shown(stated: Stated) -> list[dict[str, str]]:
    """Return the rasters and maps of a trip by name and use."""
    height = stated.canopy_height
    named = {
        "cover": stated.canopy,
        "height": (height,) if isinstance(height, str) else (),
        "terrain": stated.terrain,
        "map": stated.map,
    }
    pairs = [(source, use) for use, sources in named.items() for source in sources]
    return [{"name": printable(Path(source).name), "as": use} for source, use in pairs]
