"""Empty collections on SQLite and on PostgreSQL."""

from __future__ import annotations

import os
import pwd
import shutil
import signal
import subprocess
import tempfile
import time
import uuid
from pathlib import Path

import pytest
from sqlalchemy import create_engine, text

from motifs.catalogue import Catalogue, tables

MEMORY = Path("/dev/shm") if os.access("/dev/shm", os.W_OK) else None  # noqa: S108
"""Temporary files in memory where the system has such a folder: thousands of small ones take a disk minutes."""


@pytest.fixture
def tmp_path():
    with tempfile.TemporaryDirectory(prefix="catalogue-", dir=MEMORY) as folder:
        yield Path(folder)


def _postgres_programs() -> Path | None:
    folders = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    return folders[-1].parent if folders else None


@pytest.fixture(scope="session")
def postgres_url():
    """A PostgreSQL server of our own on a socket in a temporary folder, started from Debian's programs."""
    programs = _postgres_programs()
    if programs is None:
        pytest.skip("PostgreSQL's server programs are not installed (Debian: postgresql)")
    user = "postgres" if os.geteuid() == 0 else pwd.getpwuid(os.geteuid()).pw_name
    as_user = {"user": user, "group": pwd.getpwnam(user).pw_gid} if os.geteuid() == 0 else {}
    folder = Path(tempfile.mkdtemp(prefix="catalogue-pg-", dir=MEMORY))
    if as_user:
        shutil.chown(folder, user)
    options = ("-c", "listen_addresses=", "-k", str(folder), "-c", "fsync=off")

    initdb = (programs / "initdb", "-D", folder / "base", "-U", "lab", "-A", "trust", "-E", "UTF8", "--no-sync")
    subprocess.run(initdb, check=True, capture_output=True, cwd=folder, timeout=60, **as_user)
    with (folder / "log").open("wb") as log:
        server = subprocess.Popen(
            (programs / "postgres", "-D", folder / "base", *options), stdout=log, stderr=log, cwd=folder, **as_user
        )
    try:
        _wait_until_ready(programs, folder, server)
        yield f"postgresql+psycopg://lab@/postgres?host={folder}"
    finally:
        server.send_signal(signal.SIGQUIT)
        server.wait(timeout=30)
        shutil.rmtree(folder)


def _wait_until_ready(programs: Path, folder: Path, server: subprocess.Popen) -> None:
    for _ in range(300):
        if subprocess.run((programs / "pg_isready", "-q", "-h", folder), check=False).returncode == 0:
            return
        assert server.poll() is None, (folder / "log").read_text()
        time.sleep(0.05)
    raise AssertionError((folder / "log").read_text())


def _new_schema(postgres_url: str) -> str:
    name = "c" + uuid.uuid4().hex
    engine = create_engine(postgres_url)
    with engine.begin() as connection:
        connection.execute(text(f"CREATE SCHEMA {name}"))
    engine.dispose()
    return f"{postgres_url}&options=-csearch_path%3D{name}"


@pytest.fixture
def server_url(postgres_url):
    """URL of an empty schema of its own."""
    return _new_schema(postgres_url)


@pytest.fixture(scope="session")
def empty_folder(tmp_path_factory):
    """A new collection, to copy: making one takes longer than most tests."""
    folder = tmp_path_factory.mktemp("empty") / "collection"
    Catalogue.open(folder, create=True).close()
    return folder


@pytest.fixture(scope="session")
def one_schema(postgres_url, tmp_path_factory):
    """URL of one schema that is emptied before each test, and an engine on it."""
    url = _new_schema(postgres_url)
    Catalogue.open(tmp_path_factory.mktemp("schema"), create=True, url=url).close()
    engine = create_engine(url)
    yield url, engine
    engine.dispose()


@pytest.fixture
def emptied_url(one_schema):
    url, engine = one_schema
    with engine.begin() as connection:
        connection.execute(text(f"TRUNCATE {', '.join(tables.metadata.tables)} RESTART IDENTITY"))
    return url


@pytest.fixture(params=["sqlite", "postgresql"])
def cat(request, tmp_path, empty_folder):
    """An empty collection; every test that asks for it runs on both databases."""
    if request.param == "postgresql":
        url = request.getfixturevalue("emptied_url")
        opened = Catalogue.open(tmp_path / "collection", create=True, url=url)
    else:
        opened = Catalogue.open(shutil.copytree(empty_folder, tmp_path / "collection"))
    with opened:
        yield opened


@pytest.fixture
def lite(tmp_path, empty_folder):
    """An empty collection on SQLite."""
    with Catalogue.open(shutil.copytree(empty_folder, tmp_path / "collection")) as opened:
        yield opened
