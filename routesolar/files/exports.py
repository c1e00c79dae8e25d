"""The files of one harvest, written into one folder."""

from collections.abc import Collection, Mapping, Sequence
from pathlib import Path

from routesolar.errors import UsageError
from routesolar.files.folder import TABLES, write_folder
from routesolar.files.geojson import route_geojson
from routesolar.files.reading import PathText
from routesolar.files.results import result_json
from routesolar.files.route_xml import route_gpx, route_kml
from routesolar.files.tables_csv import days_csv, legs_csv, segments_csv, tables_json
from routesolar.files.wording import ALSO
from routesolar.trip.harvest_report import HarvestReport


def write_harvest(
    folder: PathText,
    report: HarvestReport,
    *,
    drawn: Mapping[str, bytes],
    colours: Sequence[str] = (),
    also: Collection[str] = (),
    force: bool = False,
) -> None:
    """Write one harvest into `folder`, all files or none.

    `drawn` holds page.html, map.png and where asked for card.png, which the report draws; `also` names what
    else is written: "kml", "gpx", "card"; KML needs each segment's colour.

    Raises:
        UsageError: a format in `also` is unknown.
        OutputError: the folder may not be replaced, or the disk refuses.
    """
    unknown = sorted(set(also) - set(ALSO))
    if unknown:
        raise UsageError(f"--also {unknown[0]} is not a format written here; choose from {', '.join(ALSO)}")
    tables = {
        "legs.csv": legs_csv(report),
        **({"days.csv": days_csv(report)} if report.harvest.days else {}),
        "segments.csv": segments_csv(report),
    }
    texts = {
        "result.json": result_json(report),
        **tables,
        TABLES: tables_json(tables, title=report.title, rests_on=report.rests_on, software=report.software),
        "route.geojson": route_geojson(report),
    }
    if "kml" in also:
        texts["route.kml"] = route_kml(report, colours)
    if "gpx" in also:
        texts["route.gpx"] = route_gpx(report)
    contents = {name: text.encode() for name, text in texts.items()}
    write_folder(Path(folder), {**drawn, **contents}, force=force)
