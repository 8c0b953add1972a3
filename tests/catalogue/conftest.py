"""Empty collections on SQLite and on PostgreSQL."""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
import uuid
from pathlib import Path

import pytest
from sqlalchemy import create_engine, text

from motifs.catalogue import Catalogue

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
    folder = Path(tempfile.mkdtemp(prefix="catalogue-pg-"))
    if as_user:
        shutil.chown(folder, user)
    options = f"-c listen_addresses='' -k {folder} -c fsync=off"

    def run(*command: str) -> None:
        subprocess.run(command, check=True, capture_output=True, cwd=folder, timeout=60, **as_user)

    run(str(programs / "initdb"), "-D", f"{folder}/base", "-U", "lab", "-A", "trust", "-E", "UTF8", "--no-sync")
    run(str(programs / "pg_ctl"), "-D", f"{folder}/base", "-l", f"{folder}/log", "-w", "-o", options, "start")
    try:
        yield f"postgresql+psycopg://lab@/postgres?host={folder}"
    finally:
        run(str(programs / "pg_ctl"), "-D", f"{folder}/base", "-m", "immediate", "stop")
        shutil.rmtree(folder)


@pytest.fixture
def server_url(postgres_url):
    """URL of an empty schema of its own."""
    name = "c" + uuid.uuid4().hex
    engine = create_engine(postgres_url)
    with engine.begin() as connection:
        connection.execute(text(f"CREATE SCHEMA {name}"))
    engine.dispose()
    return f"{postgres_url}&options=-csearch_path%3D{name}"


@pytest.fixture(params=["sqlite", "postgresql"])
def cat(request, tmp_path):
    """An empty collection; every test that asks for it runs on both databases."""
    url = request.getfixturevalue("server_url") if request.param == "postgresql" else None
    with Catalogue.open(tmp_path / "collection", create=True, url=url) as opened:
        yield opened


@pytest.fixture
def lite(tmp_path):
    """An empty collection on SQLite."""
    with Catalogue.open(tmp_path / "collection", create=True) as opened:
        yield opened
