"""What many drives bring, group by group."""

from dataclasses import dataclass

from routesolar.trip.noun import Noun


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveGroup:
    """Drives that have something in common, `label`: their number, and the spread of their energies.

    `low_wh` and `high_wh` are the 10th and the 90th percentile over these drives, each at its expected energy,
    and `mid_wh` the 50th, good to 0.3 %; None of no drive.
    """

    label: tuple[str, ...]
    drives: int
    mean_wh: float | None
    low_wh: float | None
    mid_wh: float | None
    high_wh: float | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class StudySummary(Noun):
    """A study that has been computed: all its drives, then by month, hour of leaving, route, rig and sky.

    `rows` are by route, rig and sky together. `failed` drives are in no group; `errors` are the first of what
    they say, each once with how often.
    """

    name: str
    time_zone: str
    first_date: str
    last_date: str
    failed: int
    errors: tuple[tuple[str, int], ...]
    whole: DriveGroup
    months: tuple[DriveGroup, ...]
    hours: tuple[DriveGroup, ...]
    routes: tuple[DriveGroup, ...]
    rigs: tuple[DriveGroup, ...]
    skies: tuple[DriveGroup, ...]
    rows: tuple[DriveGroup, ...]

    @property
    def drives(self) -> int:
        """All drives, those that failed included."""
        return self.whole.drives + self.failed
