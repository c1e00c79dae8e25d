"""The files of one harvest, written into one folder."""

from collections.abc import Collection, Mapping
from pathlib import Path

from routesolar.errors import UsageError
from routesolar.files.folder import write_folder
from routesolar.files.geojson import route_geojson
from routesolar.files.reading import PathText
from routesolar.files.results import result_json
from routesolar.files.route_xml import route_gpx, route_kml
from routesolar.files.tables_csv import days_csv, legs_csv, segments_csv
from routesolar.trip.harvest_report import HarvestReport

ALSO = {"kml": route_kml, "gpx": route_gpx}


def write_harvest(
    folder: PathText,
    report: HarvestReport,
    *,
    drawn: Mapping[str, bytes],
    also: Collection[str] = (),
    force: bool = False,
) -> None:
    """Write one harvest into `folder`, all files or none.

    `drawn` holds page.html and map.png, which the report draws; `also` names further formats of
    the route, "kml" and "gpx".

    Raises:
        UsageError: a format in `also` is unknown.
        OutputError: the folder may not be replaced, or the disk refuses.
    """
    unknown = sorted(set(also) - set(ALSO))
    if unknown:
        raise UsageError(f"--also {unknown[0]} is not a format written here; choose from kml and gpx")
    texts = {
        "result.json": result_json(report),
        "legs.csv": legs_csv(report),
        **({"days.csv": days_csv(report)} if report.harvest.days else {}),
        "segments.csv": segments_csv(report),
        "route.geojson": route_geojson(report),
    } | {f"route.{name}": write(report) for name, write in ALSO.items() if name in also}
    contents = {name: text.encode() for name, text in texts.items()}
    write_folder(Path(folder), {**drawn, **contents}, force=force)
