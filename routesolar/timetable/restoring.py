"""Put back what smoothing takes from a track: it cuts bends short, and on straight roads leaves noise in."""

from collections.abc import Callable, Sequence

import numpy as np

from routesolar.trip.arrays import FloatArray


def restored(
    track: FloatArray,
    smooth: Callable[[FloatArray], FloatArray],
    length_m: Callable[[FloatArray], float],
    errors: Sequence[FloatArray],
) -> FloatArray:
    """Return the track (n, 2) that, recorded with such errors and smoothed, comes out as long as the one given.

    `smooth` is linear and made the given track; `errors` are draws of the receiver's. What smoothing once more
    takes from the track is put back (twicing, Tukey 1977) or taken off, once at most, by the share for which
    the lengths agree (indirect inference: Gourieroux, Monfort & Renault 1993, J. Appl. Econometrics 8:S85).
    Both sources from memory.
    """
    taken = track - smooth(track)
    left = [smooth(error) for error in errors]
    shares = np.array([-1.0, 0.0, 1.0])
    recorded = [smooth(track + share * taken) for share in shares]
    lengths_m = [np.mean([length_m(seen + error) for error in left]) for seen in recorded]
    share = np.interp(length_m(track), np.maximum.accumulate(lengths_m), shares)
    back: FloatArray = track + share * taken
    return back
