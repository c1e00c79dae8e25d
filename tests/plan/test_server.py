"""The server of the page: who may ask, what it takes in, and when it ends."""

import asyncio
import http.client
import json
import shutil
import socket
import sys
import time
import tomllib
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from itertools import pairwise
from resource import RUSAGE_SELF, getrusage

import pytest
from fuzz.page_cases import asked_of, request_of
from plan_page import DEMO, served
from terminal import refused, run

from routesolar.limits import limit_of
from routesolar.plan import answering
from routesolar.plan.answering import Desk
from routesolar.plan.app import Pages
from routesolar.plan.folder import Folder
from routesolar.plan.guard import Guard
from routesolar.wanted import in_steps, while_wanted


class Client:
    """A browser of few words: it keeps the cookie that it is given."""

    def __init__(self, session):
        self.guard, self.cookie = session.guard, ""

    def ask(self, method, path, body=None, **headers):
        own = {"Host": self.guard.host, "Origin": f"http://{self.guard.host}", "Cookie": self.cookie}
        own |= {"Content-Type": "application/json"}
        own |= {name.replace("_", "-"): value for name, value in headers.items()}
        with closing(http.client.HTTPConnection("127.0.0.1", self.guard.port, timeout=120)) as connection:
            connection.request(method, path, body, {name: value for name, value in own.items() if value})
            reply = connection.getresponse()
            return reply.status, reply.headers, reply.read()

    def enter(self):
        status, headers, _ = self.ask("GET", f"/?token={self.guard.token}", Origin="")
        self.cookie = headers["Set-Cookie"].partition(";")[0]
        return status, headers

    def said(self, path, said, method="POST"):
        body = json.dumps(said) if isinstance(said, dict) else said
        status, _, content = self.ask(method, path, body)
        assert status == 200, content
        return json.loads(content)


@pytest.fixture(scope="module")
def session(tmp_path_factory):
    with served(tmp_path_factory.mktemp("plan") / "session") as session:
        session.client = Client(session)
        session.client.first_token = session.guard.token
        session.client.entered = session.client.enter()
        yield session


@pytest.fixture
def client(session):
    return session.client


BATTERY = {"panel": "200W", "battery": "900"}
WORDS = {"depart": "2026-11-20 08:00", "speed": "70km/h"}
TRIP = {"base": ["coast.gpx"], "words": WORDS, "rig": {"panel": "200W"}}
SAID = ("--panel", "200W", "--depart", "2026-11-20 08:00", "--speed", "70km/h", "--sky", "broken", "--json")
NAMES = ("..%2Fa.gpx", "%2Ftmp%2Fa.gpx", ".hidden.gpx", "a%00.gpx", "..", "a.exe", "a.html")
NONSENSE = (
    b"",
    b"{",
    b"[]",
    b'{"base": 7}',
    b'{"base": ["coast.gpx"], "words": []}',
    b"[" * 99_999,
    b'{"base": ["\\ud800"]}',
)


def with_coast(client):
    content = (DEMO / "coast.gpx").read_bytes()
    kept = client.said("/files/coast.gpx", content, "PUT")
    assert (kept["name"], kept["kind"]) == ("coast.gpx", "route")


def test_the_token_is_good_for_once_and_the_cookie_is_strict(client):
    status, headers = client.entered
    assert (status, headers["Location"]) == (303, "/")
    assert {"HttpOnly", "SameSite=Strict"} <= {part.strip() for part in headers["Set-Cookie"].split(";")}
    assert client.ask("GET", f"/?token={client.first_token}", Cookie="")[0] == 403
    assert client.ask("GET", "/?token=", Cookie="")[0] == 403
    status, headers, page = client.ask("GET", "/", Origin="")
    assert status == 200
    assert b"<script>" not in page and b" on" + b"click=" not in page
    assert "unsafe" not in headers["Content-Security-Policy"]


@pytest.mark.parametrize(
    "headers",
    [
        {"Cookie": ""},
        {"Cookie": "routesolar=guess"},
        {"Host": "planner.example"},
        {"Host": "localhost:80"},
        {"Origin": "https://planner.example"},
        {"Origin": "null"},
        {"Origin": ""},
        {"Sec_Fetch_Site": "cross-site"},
        {"Sec_Fetch_Site": "same-site"},
    ],
)
def test_nobody_else_is_answered(client, headers):
    for method, path in (("POST", "/answer"), ("PUT", "/files/a.gpx"), ("POST", "/alive"), ("POST", "/save")):
        status, _, words = client.ask(method, path, "{}", **headers)
        assert (status, words[:11]) == (403, b"routesolar:")


@pytest.mark.parametrize("name", NAMES)
def test_no_name_leads_out_of_the_folder_or_is_of_another_kind(client, session, name):
    before = sorted(session.folder.root.parent.rglob("*"))
    status, _, content = client.ask("PUT", f"/files/{name}", b"x")
    assert status == 404 or json.loads(content)["wrong"]
    assert sorted(session.folder.root.parent.rglob("*")) == before


def test_a_link_out_of_the_folder_is_not_followed(client, session):
    (session.folder.root / "link.gpx").symlink_to(DEMO / "coast.gpx")
    assert "leads out" in client.said("/open", {"base": ["link.gpx"]})["wrong"][""]
    (session.folder.root / "link.gpx").unlink()


@pytest.mark.parametrize("named", ["/etc/hostname", "../coast.gpx", "http://127.0.0.1:1/a.tif", "missing.gpx"])
@pytest.mark.parametrize(
    "key", ["route", "rig", "weather", "canopy", "canopy_height", "terrain", "map", "trees.leaf_type"]
)
def test_a_trip_may_name_only_what_lies_in_the_folder(client, key, named):
    with_coast(client)
    lines = {"route": '"coast.gpx"', key: f'"{named}"'}
    text = "\n".join(f"{name} = {value}" for name, value in lines.items())
    name = client.said("/files/stranger.toml", text.encode(), "PUT")["name"]
    wrong = client.said("/open", {"base": [name]})["wrong"][""]
    assert "which is not in the folder" in wrong or "not here yet" in wrong


@pytest.mark.parametrize(
    ("name", "begins"),
    [("a.tif", b"II*\0"), ("a.osm.pbf", b"\0\0\0\x0d\n\x09OSMHeader"), ("a.gpkg", b"SQLite format 3\0")],
)
def test_what_is_not_what_its_name_says_is_refused_at_its_first_bytes(client, session, name, begins):
    before = sorted(session.folder.root.iterdir())
    told = client.said(f"/files/{name}", b"<html>" + bytes(2_000_000), "PUT")["wrong"][""]
    assert "of the kind that its name says" in told
    assert sorted(session.folder.root.iterdir()) == before
    kept = client.said(f"/files/{name}", begins + bytes(200), "PUT")["name"]
    (session.folder.root / kept).unlink()


def test_a_refused_file_may_be_sent_to_its_end_however_long_that_takes(client):
    """Who is cut off while sending hears no reason; the server once hung up five seconds after refusing."""

    size, part = 3_000_000, bytes(100_000)

    def parts():
        time.sleep(6)
        for _ in range(size // len(part)):
            yield part

    status, _, content = client.ask("PUT", "/files/slow.toml", parts(), Content_Length=str(size))
    assert (status, json.loads(content)["wrong"][""][:22]) == (200, "slow.toml: larger than")


def test_a_large_file_goes_to_disk_as_it_comes(client, session):
    size, part = 250_000_000, b"II*\0" + bytes(2**20 - 4)

    def parts():
        for _ in range(size // len(part)):
            yield part

    most_before = getrusage(RUSAGE_SELF).ru_maxrss
    kept = client.said("/files/terrain_of_a_region.tif", parts(), "PUT")
    grown_mb = (getrusage(RUSAGE_SELF).ru_maxrss - most_before) / 1000
    assert (kept["kind"], kept["as"]) == ("raster", "terrain")
    path = session.folder.root / kept["name"]
    assert path.stat().st_size == size // len(part) * len(part)
    path.unlink()
    assert grown_mb < 60


@pytest.mark.parametrize(
    ("stretch", "words"),
    [
        ({"from": "9", "to": "4"}, "stretch A: "),
        ({"from": "", "to": "4"}, "stretch A: from is"),
        ({"from": "1", "to": "4", "cover": "300"}, "percent between 0 and 100"),
        ({"from": "1", "to": "4", "height": "tall"}, "is no number"),
        ({"from": "1", "to": "4", "width": "-3"}, "stretch A: road-width"),
        ({"keep": 3, "from": "1", "to": "4"}, "not there"),
    ],
)
def test_what_is_wrong_with_a_stretch_is_said_of_it(client, stretch, words):
    with_coast(client)
    wrong = client.said("/answer", TRIP | {"stretches": [stretch]})["wrong"]
    assert words in wrong["stretches"]


def test_stretches_and_rasters_are_saved_as_the_command_line_reads_them(client, session):
    with_coast(client)
    for name in ("cover.tif", "terrain.tif"):
        client.said(f"/files/{name}", (DEMO / name).read_bytes(), "PUT")
    files = [{"name": "cover.tif", "as": "cover"}, {"name": "terrain.tif", "as": "terrain"}]
    stretches = [
        {"from": "2", "to": "9.5", "cover": "70", "height": "20", "width": ""},
        {"from": "11", "to": "12", "roofed": True},
    ]
    said = TRIP | {"sky": "broken", "files": files, "stretches": stretches}
    told = client.said("/answer", said)
    assert client.said("/save", said | {"name": "woods"})["written"] == ["woods.toml"]
    table = tomllib.loads((session.folder.root / "woods.toml").read_text())
    assert (table["canopy"], table["terrain"]) == (["cover.tif"], ["terrain.tif"])
    assert [(one["from"], one["to"], one.get("roofed")) for one in table["surroundings"]] == [
        ("2000m", "9500m", None),
        ("11000m", "12000m", True),
    ]
    assert (
        told["energy_wh"]
        == run("harvest", session.folder.root / "woods.toml", "--json").json["totals"]["energy_wh"]
    )
    shown = client.said("/open", {"base": ["woods.toml"]})
    assert shown["files"] == files
    assert [one["cover"] for one in shown["stretches"]] == ["70", ""]
    kept = [{**one, "keep": number} for number, one in enumerate(shown["stretches"])]
    again = client.said("/answer", {"base": ["woods.toml"], "stretches": kept, "files": files})
    assert again["energy_wh"] == told["energy_wh"]


@pytest.mark.parametrize(
    ("question", "asked", "command"),
    [
        ("compare", {"other": ["forest.gpx"]}, ("compare", DEMO / "coast.gpx", DEMO / "forest.gpx", *SAID)),
        ("size", {"rated": "100, 300"}, ("size", DEMO / "coast.gpx", *SAID, "--rated", "100,300")),
        (
            "park",
            {"at": "12km", "stay": "2h", "within": "50m"},
            ("park", DEMO / "coast.gpx", *SAID, "--at", "12km", "--for", "2h", "--within", "50m"),
        ),
    ],
)
def test_each_question_is_answered_as_its_command_answers_it(client, question, asked, command):
    with_coast(client)
    client.said("/files/forest.gpx", (DEMO / "forest.gpx").read_bytes(), "PUT")
    told = client.said(f"/decide/{question}", TRIP | {"sky": "broken", "asked": asked})
    ran = run(*command)
    rows = next(ran.json[key] for key in ("rows", "routes", "sizes", "spots") if key in ran.json)
    assert [bar["energy_wh"] for bar in told["bars"]] == [row["energy_wh"] for row in rows][: len(told["bars"])]
    assert len(told["bars"]) == min(len(rows), 12)
    if question == "park":
        places = [[row["rank"], row["latitude_deg"], row["longitude_deg"]] for row in rows[:12]]
        assert [[bar["rank"], *bar["place"]] for bar in told["bars"]] == places
        assert [int(row[0]) for row in told["cells"][:12]] == [place[0] for place in places]


@pytest.fixture
def endless(monkeypatch):
    """Departures that would take ten minutes to try."""

    def slow(trip, asked, other):
        for _ in in_steps(range(60_000)):
            time.sleep(0.01)

    monkeypatch.setattr(answering, "QUESTIONS", dict(answering.QUESTIONS) | {"departures": slow})


@pytest.mark.parametrize("newer", ["/answer", "/open", "/decide/size", "/results"])
def test_a_running_decision_gives_way_to_what_is_asked_later(client, endless, newer):
    """And tells on the way what it is at, and how much is done."""
    with_coast(client)
    with ThreadPoolExecutor(1) as pool:
        running = pool.submit(client.said, "/decide/departures", TRIP)
        told = []
        while not told or told[-1]["done_frac"] < 0.0005:
            told.append(client.said("/doing", {}))
        assert (told[-1]["what"], told[-1]["words"]) == ("decide", answering.LAYING_OUT)
        assert [one["done_frac"] for one in told] == sorted(one["done_frac"] for one in told)
        said = TRIP | {"sky": "broken", "asked": {"rated": "100"}, "name": "results"}
        assert client.said(newer, said).keys() != {"superseded"}
        assert running.result(60) == {"superseded": True}
    assert client.said("/doing", {})["done_frac"] == 0


def test_a_trip_is_saved_while_a_decision_runs_on(client, session, endless):
    with_coast(client)
    with ThreadPoolExecutor(1) as pool:
        running = pool.submit(client.said, "/decide/departures", TRIP)
        while client.said("/doing", {})["done_frac"] == 0:
            pass
        before = client.said("/doing", {})["done_frac"]
        assert client.said("/save", TRIP | {"name": "kept"})["written"] == ["kept.toml"]
        assert (session.folder.root / "kept.toml").exists()
        while client.said("/doing", {})["done_frac"] <= before:
            assert not running.done()
        client.said("/open", {"base": ["coast.gpx"]})
        assert running.result(60) == {"superseded": True}


@pytest.mark.parametrize("question", ["departures", "size", "park", "compare"])
def test_a_decision_asks_often_whether_it_is_wanted_and_tells_what_is_done(tmp_path, question):
    """In woods all along; a quarter of the processor time at most goes by without a question."""
    desk = Desk(Folder(tmp_path / "session"))
    for name in ("coast.gpx", "forest.gpx"):
        shutil.copy(DEMO / name, tmp_path / "session")
    trip = TRIP | {"sky": "broken", "words": WORDS | {"canopy_cover": "60"}}
    asked = {"other": ["forest.gpx"], "stay": "2h", "within": "50m"}
    done, at_s = [], []

    def check(done_frac):
        done.append(done_frac)
        at_s.append(time.process_time())

    for _ in range(2):  # the first compiles
        done.clear()
        at_s.clear()
        began_s = time.process_time()
        with while_wanted(check):
            desk.decide(question, trip | {"asked": asked})
        ended_s = time.process_time()
    longest_s = max(after - before for before, after in pairwise([began_s, *at_s, ended_s]))
    assert longest_s < max(0.25 * (ended_s - began_s), 0.1)
    assert max(done) > 0.8
    assert len({round(share, 2) for share in done}) >= 8


def test_a_question_that_is_none_is_told_so(client):
    with_coast(client)
    assert client.said("/decide/weather", TRIP)["wrong"][""]
    assert client.said("/decide/compare", TRIP)["wrong"][""]
    assert client.said("/decide/size", TRIP | {"asked": {"rated": "many"}})["wrong"]


def test_what_is_too_large_or_no_route_is_refused_in_words_and_leaves_nothing(client, session):
    before = sorted(session.folder.root.iterdir())
    large = b"[" * (limit_of("trip or rig file") + 1)
    assert "larger than 0.5 MB" in client.said("/files/large.toml", large, "PUT")["wrong"][""]
    assert "no.gpx" in client.said("/files/no.gpx", b"<html/>", "PUT")["wrong"][""]
    assert sorted(session.folder.root.iterdir()) == before


def test_a_file_of_the_same_name_is_kept_beside_and_the_same_file_once(client, session):
    with_coast(client)
    other = (DEMO / "forest.gpx").read_bytes()
    assert client.said("/files/coast.gpx", other, "PUT")["name"] == "coast_2.gpx"
    assert client.said("/files/coast.gpx", other, "PUT")["name"] == "coast_2.gpx"
    with_coast(client)
    assert (session.folder.root / "coast.gpx").read_bytes() == (DEMO / "coast.gpx").read_bytes()


@pytest.mark.parametrize("body", NONSENSE)
def test_nonsense_is_told_so(client, body):
    assert client.said("/answer", body)["wrong"]


@pytest.mark.parametrize(
    ("said", "field", "words"),
    [
        ({"rig": {"panel": "-5W"}}, "panel", "panel is"),
        ({"rig": {"panel": "200W", "battery": "0"}}, "battery", "capacity_wh"),
        ({"rig": {"panel": "200W", "engine": "300"}}, "battery", "without a battery"),
        ({"rig": BATTERY | {"loads": [{"watts": "x"}]}}, "loads", "is not a number"),
        (
            {"rig": BATTERY | {"loads": [{"watts": "9", "when": "noon"}]}},
            "loads",
            "clock times",
        ),
        ({"words": WORDS | {"depart": "2026-02-30 08:00"}}, "depart", "2026-02-30"),
        ({"words": WORDS | {"until": "late"}}, "until", "until is"),
        ({"words": WORDS | {"canopy_cover": "300"}}, "canopy_cover", "percent between 0 and 100"),
        ({"words": {"depart": "2026-11-20 08:00"}}, "speed", "--speed"),
        ({"stops": [{"at": "900km", "minutes": "5"}]}, "stops", "900"),
        ({"stops": [{"at": "9km", "minutes": "soon"}]}, "stops", "stop is"),
        ({"sky": "sunny"}, "sky", "sunny"),
    ],
)
def test_what_is_wrong_is_said_of_its_field(client, said, field, words):
    with_coast(client)
    wrong = client.said("/answer", TRIP | said)["wrong"]
    assert list(wrong) == [field]
    assert words in wrong[field]


def test_a_fault_in_one_request_ends_only_that(client, session, monkeypatch, capsys):
    with_coast(client)
    monkeypatch.setattr(answering, "harvest_report", lambda done: 1 / 0)
    assert "this is a bug in routesolar" in client.said("/answer", TRIP)["wrong"][""]
    monkeypatch.undo()
    assert client.said("/answer", TRIP)["energy_wh"] > 0


def test_a_quick_answer_of_another_departure_has_the_energy_of_the_whole_one(client):
    with_coast(client)
    trip = TRIP | {"words": WORDS | {"canopy_cover": "60"}, "sky": "broken"}
    client.said("/answer", trip)
    later = trip | {"words": trip["words"] | {"depart": "2026-11-20 09:10"}}
    quick, whole = (client.said("/answer", later | {"quick": quick}) for quick in (True, False))
    assert quick["energy_wh"] == whole["energy_wh"]
    assert (quick["is_whole"], whole["is_whole"]) == (False, True)
    said = ("--panel", "200W", "--depart", "2026-11-20 09:10", "--speed", "70km/h", "--sky", "broken")
    ran = run("harvest", DEMO / "coast.gpx", "--canopy-cover", "60", *said, "--json")
    assert whole["energy_wh"] == ran.json["totals"]["energy_wh"]


@pytest.mark.parametrize("sky", ["broken", "clear"])
@pytest.mark.parametrize(
    ("base", "word", "values"),
    [
        ("coast.gpx", "canopy_cover", ("30", "90")),
        ("coast.gpx", "canopy_height", ("8m", "30m")),
        ("coast.gpx", "road_width", ("6m", "24m")),
        ("forest.toml", "road_width", ("7m", "20m")),
    ],
)
def test_trees_being_dragged_are_answered_near_and_said_to_be(tmp_path, base, word, values, sky):
    """Within 1 % of the whole answer: the sky is looked at from some places only."""
    desk = Desk(Folder(tmp_path / "session"))
    for file in (
        "coast.gpx",
        "forest.toml",
        "forest.gpx",
        "van.toml",
        "cover.tif",
        "height.tif",
        "terrain.tif",
    ):
        shutil.copy(DEMO / file, tmp_path / "session")
    own = {"base": [base], "sky": sky} if base == "forest.toml" else TRIP | {"sky": sky}
    words = dict(own.get("words", {})) | ({} if base == "forest.toml" else {"canopy_cover": "60"})
    for value in values:
        said = own | {"words": words | {word: value}}
        near, whole = (desk.answer(said | {"quick": quick}) for quick in (True, False))
        assert near["energy_wh"] == pytest.approx(whole["energy_wh"], rel=0.01)
        assert near["energy_wh"] != whole["energy_wh"]
        assert "or so on this drive" in near["told"] and "or so" not in whole["told"]
        assert (near["is_whole"], whole["is_whole"]) == (False, True)


def test_whether_loads_go_short_stands_in_the_answer_itself(client):
    with_coast(client)
    for battery, words in (
        ("600", "Loads are cut off at the reserve on"),
        ("20000", "No load goes short on any"),
    ):
        rig = {"panel": "200W", "battery": battery, "loads": [{"name": "freezer", "watts": "60"}]}
        trip = TRIP | {"rig": rig, "sky": "broken", "words": WORDS | {"until": "tomorrow 08:00"}}
        answer = client.said("/answer", trip)["told"].partition('class="figures"')[0]
        assert words in answer.replace("\u00a0", " ")


def test_what_a_stays_total_is_called_fits_a_stay(client, session):
    with_coast(client)
    (session.folder.root / "camp.toml").write_text(
        'at = "-41.6,146.5"\nuntil = "tomorrow 08:00"\n', encoding="utf-8"
    )
    rest = {key: value for key, value in TRIP.items() if key != "words"}
    words = {"depart": WORDS["depart"]}
    stay = client.said("/answer", rest | {"base": ["camp.toml"], "words": words})["told"]
    drive = client.said("/answer", TRIP)["told"]
    assert ("Whole stay" in stay, "Whole drive" in stay) == (True, False)
    assert ("Whole stay" in drive, "Whole drive" in drive) == (False, True)


def test_clients_that_say_half_of_what_they_want_hold_up_nobody(tmp_path):
    """Neither the next request nor the end: a body that never comes was waited for without end."""
    with served(tmp_path / "session") as session:
        client = Client(session)
        client.enter()
        own = {"Host": session.guard.host, "Origin": f"http://{session.guard.host}", "Cookie": client.cookie}
        lines = [f"{name}: {value}" for name, value in (own | {"Content-Type": "application/json"}).items()]
        head = "\r\n".join(["POST /answer HTTP/1.1", *lines, "Content-Length: 900", "", "{"])
        slow = [socket.create_connection(("127.0.0.1", session.guard.port)) for _ in range(40)]
        for number, one in enumerate(slow):
            one.sendall(head[: None if number % 2 else 60].encode())
        began_s = time.monotonic()
        assert client.ask("GET", "/plan.js")[0] == 200
        assert time.monotonic() - began_s < 5
    # `served` has asked it to end, and waited until it had.
    for one in slow:
        one.close()


def test_ten_thousand_requests_are_answered_and_leave_nothing(tmp_path):
    pages = Pages(Desk(Folder(tmp_path / "session")), Guard(4321))
    alive = json.loads(request_of("POST", "/alive", None))
    stranger = alive | {"headers": {"cookie": ""}}

    async def ask():
        app = pages.app()
        return [(await asked_of(pages, each, app))[0] for _ in range(5000) for each in (alive, stranger)]

    assert asyncio.run(ask()) == [204, 403] * 5000
    assert sorted((tmp_path / "session").iterdir()) == []


def test_it_ends_by_itself_when_nothing_is_heard_and_leaves_no_empty_folder(tmp_path):
    with served(tmp_path / "session", quiet_s=0.4) as session:
        client = Client(session)
        client.enter()
        for _ in range(4):
            time.sleep(0.2)
            assert client.ask("POST", "/alive")[0] == 204
        time.sleep(1.0)
        with pytest.raises(OSError):
            client.ask("POST", "/alive")
    assert not (tmp_path / "session").exists()


def test_without_its_libraries_the_command_says_how_to_get_them(monkeypatch, tmp_path):
    for name in [name for name in sys.modules if name.startswith(("routesolar.plan", "starlette", "uvicorn"))]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "uvicorn", None)
    assert 'pip install ".[page]"' in refused(2, "plan", "--no-browser", "--folder", tmp_path / "plan")
