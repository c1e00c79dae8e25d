"""The commands, each with one line that says what it is for, and the help that lists them.

Imports nothing: this is all that `routesolar --help` needs. A command's own help is its function's docstring,
which begins with the line here, as a test checks.
"""

from routesolar.version import SOFTWARE

ABOUT = "How many watt-hours a vehicle's roof panel gathers along a drive, leg by leg."
COMMANDS = {
    "harvest": "Energy per leg of one drive: table, files, page.",
    "departures": "Many departures on one day, best first, with their spread.",
    "calendar": "Energy by month and departure hour: when in the year the panel pays off.",
    "compare": "Two or more routes compared under the same sky, up to a common end.",
    "size": "What sizes of panel, battery and charger would deliver against the loads, and which panels "
    "fit the roof.",
    "park": "Where to park near a stop, and which way to face a tilted panel.",
    "breaks": "Where along the drive, and so when, a break brings the most, and which way to park.",
    "study": "Many drives at once: every route with every rig, on every date, at every hour, under every sky.",
    "plan": "A page in your browser to plan in: drop a GPX track, say the panel, see watts on a map.",
    "route": "Show what was read: legs, stops, length and times; computes no energy.",
    "rig": "Write a commented rig file, or check one.",
    "demo": "Run the bundled scenario: an invented survey crew and their van, on invented roads.",
}
VERSION_HELP = "Print the version and exit."
_OPTIONS = {"--version": VERSION_HELP, "--help": "Show this message and exit."}
_WIDTH = 80


def said_at_once(words: list[str]) -> str | None:
    """Return the answer to words of a command line that ask for no command, None where they do."""
    match words[1:]:
        case [] | ["--help"]:
            return help_text(_called(words[0]))
        case ["--version"]:
            return SOFTWARE
    return None


def help_text(program: str) -> str:
    """Return the help that lists the commands, for a terminal of 80 letters."""
    lines = [f"Usage: {program} [OPTIONS] COMMAND [ARGS]...", "", ABOUT, ""]
    lines += ["Options:", *_listed(_OPTIONS), "", "Commands:", *_listed(COMMANDS), ""]
    return "\n".join([*lines, f"`{program} COMMAND --help` explains a command and shows examples."])


def _called(path: str) -> str:
    return "python -m routesolar" if path.endswith("__main__.py") else "routesolar"


def _listed(meanings: dict[str, str]) -> list[str]:
    """Return lines of names and meanings side by side."""
    beside = max(map(len, meanings)) + 4
    lines = []
    for name, meaning in meanings.items():
        line = f"  {name}".ljust(beside)
        for word in meaning.split():
            if len(line) + len(word) >= _WIDTH:
                lines.append(line.rstrip())
                line = " " * beside
            line += f"{word} "
        lines.append(line.rstrip())
    return lines
