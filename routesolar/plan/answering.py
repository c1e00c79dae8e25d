"""What the page is answered: a trip computed in steps, of which those are kept that nothing has changed."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from routesolar.errors import RoutesolarError, UsageError
from routesolar.files.gpx import read_route
from routesolar.files.reading import printable
from routesolar.files.rigfile import read_rig
from routesolar.files.stated import Stated
from routesolar.files.telling import doing
from routesolar.files.tripfile import read_trip_file
from routesolar.files.weather import read_weather
from routesolar.plan.deciding import QUESTIONS, told_decision
from routesolar.plan.folder import Folder
from routesolar.plan.pieces import plan_asset
from routesolar.plan.receiving import Incoming
from routesolar.plan.saying import WrongError, shown, stated_by, table
from routesolar.plan.uses import usual_use
from routesolar.report.map_parts import frame_around, sheet_svg
from routesolar.report.outlines_drawn import credits_of
from routesolar.report.page import answered, told
from routesolar.report.page_data import drive_data
from routesolar.report.page_parts import asset, templates_from
from routesolar.report.plane import lines
from routesolar.report.still_map import MARGIN
from routesolar.report.text import loads_kept_on
from routesolar.timetable import departure_at
from routesolar.trip.ground import Ground
from routesolar.trip.harvest import Harvest
from routesolar.trips.again import Again, Kept
from routesolar.trips.drawing import ground_under
from routesolar.trips.reporting import harvest_report, units_named
from routesolar.trips.trip import Trip
from routesolar.trips.writing import write_trip

TAKEN = ("page.html", "map.png", "route.gpx", "route.kml", "result.json", "legs.csv")
LAYING_OUT = "laying out the drive, its trees and the sun above it"

_FOLLOWS = " on this drive; how sure that is follows."
_NEAR = " or so on this drive, at a glance at the trees; the exact answer follows."


class Desk:
    """Answers one page, one request at a time, from what lies in its folder."""

    def __init__(self, folder: Folder) -> None:
        """Take the folder of the session."""
        self.folder = folder
        self._kept, self._again = Kept(), Again()

    def take_in(self, file: Incoming) -> dict[str, Any]:
        """Keep a file that has come whole, and tell what it is.

        Raises:
            UsageError, InputError: it is of no use here; nothing of it is left.
        """
        before = {path.name for path in self.folder.root.iterdir()}
        kept = file.arrive(self.folder.path(file.name))
        try:
            return {"name": kept, "kind": self._kind_of(kept, file.kind.what), "as": usual_use(kept)}
        except RoutesolarError:
            if kept not in before:
                self.folder.drop(kept)
            raise

    def _kind_of(self, name: str, what: str) -> str:
        """Return what a file is to the page; small ones are read for that."""
        path = self.folder.path(name)
        if what == "trip or rig":
            return "rig" if self._is_good_rig(name) else "trip"
        if what == "route":
            read_route([path])
        elif what == "weather":
            read_weather(path)
        return what

    def _is_good_rig(self, name: str) -> bool:
        if not self.folder.is_rig(name):
            read_trip_file(self.folder.path(name))
            return False
        read_rig(self.folder.path(name))
        return True

    def open(self, names: Any) -> dict[str, Any]:
        """Return what the page shows of a trip file or of GPX files.

        Raises:
            UsageError, InputError: they make no trip.
        """
        base = self._base(names)
        return shown(Trip.of(base), base) | {"base": list(names)}

    def answer(self, said: Mapping[str, Any]) -> dict[str, Any]:
        """Return the drive for map and chart, the answer and, unless asked to be quick, all that is told of it.

        A quick one takes the trees as exactly those stated and leaves the battery for later; its energies are
        the same, but while the trees themselves change: then they are near, and the words say so.

        Raises:
            RoutesolarError: the trip makes no sense.
        """
        trip, quick = self._trip(said), bool(said.get("quick"))
        after, whole = "", True
        if quick:
            done, whole, is_near = self._again.harvest_at_once(trip)
            after = _NEAR if is_near else _FOLLOWS
        else:
            done = self._again.harvest(trip)
        units = units_named(trip.units)
        report = harvest_report(done)
        ground, still = self._ground(trip, done)
        report = replace(report, ground=ground)
        words = told(report, units) if whole else answered(report, units) | {"after": after}
        words |= {"kept_on": loads_kept_on(report)}
        return {
            "data": drive_data(report, units),
            "energy_wh": done.totals.energy_wh,
            "still": still,
            "told": _TOLD.get_template("page.html").render(words),
            "credits": credits_of(report.ground),
            "is_whole": whole,
        }

    def decide(self, question: str, said: Mapping[str, Any]) -> dict[str, Any]:
        """Return the answer of one of the page's further questions about the trip, as its command gives it.

        Raises:
            UsageError: there is no such question. RoutesolarError: what is said makes no sense.
        """
        if question not in QUESTIONS:
            raise UsageError(f'"{printable(question, 40)}" is not a question of this page')
        trip, asked = self._trip(said), table(said.get("asked"))
        other = self._base(asked.get("other"), "other") if question == "compare" else None
        doing(LAYING_OUT)
        return told_decision(QUESTIONS[question](trip, asked, other), trip)

    def save(self, said: Mapping[str, Any], name: str, *, force: bool) -> dict[str, Any]:
        """Write the trip file, and a rig file beside it where there is more than a panel.

        Raises:
            RoutesolarError: the trip makes no sense, or a file of that name is there.
        """
        name = name if name.endswith(".toml") else f"{name}.toml"
        path = self.folder.path(name)
        try:
            write_trip(self._trip(said), path, force=force)
        except RoutesolarError as error:
            message = str(error).replace("force=True to replace it", "tick the box to replace it")
            raise UsageError(message) from None
        rig = path.with_name(f"{path.stem}_rig.toml")
        named = rig.name in path.read_text(encoding="utf-8")
        return {"written": [name, *([rig.name] if named else [])], "trips": self.folder.trips()}

    def write_results(self, said: Mapping[str, Any], name: str, *, force: bool) -> dict[str, Any]:
        """Write page, picture, tables, GPX and KML into a folder within the session's.

        Raises:
            RoutesolarError: the trip makes no sense, or the folder may not be replaced.
        """
        trip = self._trip(said)
        folder = self.folder.path(name)
        done = self._again.harvest(trip)
        try:
            done.save(folder, units=trip.units, also=("kml", "gpx"), force=force)
        except RoutesolarError as error:
            message = str(error).replace(
                "with -o, or replace it with --force", "name, or tick the box to replace it"
            )
            raise UsageError(message) from None
        return {"folder": name, "files": [file for file in TAKEN if (folder / file).exists()]}

    def written(self, folder: str, file: str) -> Path:
        """Return where a file of written results lies.

        Raises:
            UsageError: there is none of that name.
        """
        path = self.folder.path(folder) / file
        if file not in TAKEN or path.is_symlink() or not path.is_file():
            raise UsageError(f"there is no {printable(file, 60)} in {printable(folder, 60)}")
        return path

    def _base(self, names: Any, step: str = "base") -> Stated:
        """Return what a trip file or GPX files state, the files read once."""
        if not isinstance(names, list) or not names:
            raise UsageError("drop a route first: a GPX track, or a trip file")
        paths = [self.folder.path(name) for name in names]
        stamps = tuple((str(path), path.stat().st_mtime_ns if path.exists() else 0) for path in paths)
        return self._kept.of(step, stamps, lambda: self._read(paths))

    def _read(self, paths: list[Path]) -> Stated:
        if len(paths) == 1 and paths[0].suffix.lower() == ".toml":
            stated = read_trip_file(paths[0])
            self.folder.check_inside(stated)
            if stated.routes:
                stated = replace(stated, route=read_route(stated.routes), routes=())
            if isinstance(stated.rig, Path):
                stated = replace(stated, rig=read_rig(stated.rig))
            return stated
        return Stated(route=read_route(paths))

    def _trip(self, said: Mapping[str, Any]) -> Trip:
        weather = said.get("weather")
        read = None
        if weather is not None:
            path = self.folder.path(weather)
            read = self._kept.of("weather", (str(path),), lambda: read_weather(path))
        base = self._base(said.get("base"))
        if isinstance(said.get("rig"), str):  # the name of a rig file
            base, said = replace(base, rig=read_rig(self.folder.path(said["rig"]))), {**said, "rig": None}
        stated = stated_by({**said, "weather": read}, base, self.folder.path)
        whenever = replace(stated, depart=None)
        trip = self._kept.of("trip", (whenever,), lambda: Trip.of(whenever))
        start = None if stated.depart is None else departure_at(stated.depart, trip.time_zone)
        return replace(trip, departure=start)

    def _ground(self, trip: Trip, done: Harvest) -> tuple[Ground, str]:
        """Return what lies beneath the road, and its pictures as the map finds them."""

        def make() -> tuple[Ground, str]:
            ground = ground_under(() if done.drive is None else (done.drive,))
            if ground.trees is None and ground.relief is None:
                return ground, ""
            frame = frame_around(lines(done.segments).bounds(MARGIN))
            return ground, sheet_svg(frame, "Ground", ground, [], units_named(trip.units))

        sources = trip.sources
        rasters = sources.canopy, sources.canopy_heights, sources.surface, sources.terrain, sources.map
        shown = "" if sources.canopy_cover_frac is None else "said"
        return self._kept.of("ground", (trip.route, shown, *rasters), make)


def wrong_of(error: RoutesolarError) -> dict[str, str]:
    """Return messages by field; "" is the whole page."""
    if isinstance(error, WrongError):
        return error.wrong
    message = str(error)
    starts = {
        "the stop": "stops",
        "stop ": "stops",
        "until": "until",
        "the clock": "depart",
        "depart": "depart",
    }
    field = next((field for start, field in starts.items() if message.lower().startswith(start)), "")
    if "--speed" in message:
        field = "speed"
    return {field: message}


def _template(name: str) -> str:
    """Return the written page's own template, in a frame that holds its words alone."""
    return plan_asset("told.html") if name == "base.html" else asset(name)


_TOLD = templates_from(_template)
