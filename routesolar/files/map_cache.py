"""What a map holds around a route, kept so that the next run need not read the whole map again.

A file of arrays behind its own digest, written whole; whatever does not hold is read from the map anew.
Nothing in it is ever run: tags are text, arrays are numbers.
"""

import hashlib
import io
import json
import os
from contextlib import suppress
from pathlib import Path

import numpy as np

from routesolar.errors import RoutesolarError
from routesolar.physics.compile_cache import usable_folder
from routesolar.trip.mapped import MapFeatures

MOST_KEPT = 40  # extracts; the oldest go
_ARRAYS = ("latitude_deg", "longitude_deg", "node", "first", "feature")
_DIGEST_BYTES = hashlib.sha256().digest_size


def kept(key: str) -> MapFeatures | None:
    """Return the extract kept under a key; None where there is none that holds."""
    place = _place(key)
    try:
        content = b"" if place is None else place.read_bytes()
        digest, body = content[:_DIGEST_BYTES], content[_DIGEST_BYTES:]
        if hashlib.sha256(body).digest() != digest:
            return None
        with np.load(io.BytesIO(body), allow_pickle=False) as arrays:
            words = json.loads(arrays["words"].tobytes())
            return MapFeatures(
                **{name: arrays[name] for name in _ARRAYS},
                shapes=tuple(words["shapes"]),
                tags=tuple(words["tags"]),
                faults=tuple((name, count) for name, count in words["faults"]),
            )
    except (OSError, ValueError, KeyError, TypeError, RoutesolarError):
        return None


def keep(key: str, features: MapFeatures) -> None:
    """Keep an extract; a disk that refuses costs the next run its time, not the result."""
    place = _place(key)
    if place is None:
        return
    words = {"shapes": features.shapes, "tags": features.tags, "faults": features.faults}
    text = np.frombuffer(json.dumps(words).encode(), dtype=np.uint8)
    body = io.BytesIO()
    np.savez_compressed(body, words=text, **{name: getattr(features, name) for name in _ARRAYS})
    content = body.getvalue()
    fresh = place.with_name(f".{place.name}.{os.getpid()}")
    with suppress(OSError):
        try:
            fresh.write_bytes(hashlib.sha256(content).digest() + content)
            fresh.replace(place)
        finally:
            fresh.unlink(missing_ok=True)
        _forget_oldest(place.parent)


def _place(key: str) -> Path | None:
    folder = usable_folder("maps")
    return None if folder is None else folder / f"{key}.npz"


def _forget_oldest(folder: Path) -> None:
    found = sorted(folder.glob("*.npz"), key=lambda file: file.stat().st_mtime)
    for file in found[:-MOST_KEPT]:
        file.unlink(missing_ok=True)
