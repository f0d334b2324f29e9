"""What every test may lean on: recordings, random numbers, a shop folder of its own, a browser."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import hypothesis
import numpy as np
import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser

ROOT = Path(__file__).resolve().parents[1]

# Invented once, kept for ever: a failure must come back when the test is run again.
SEED = 20_240_229

CHROMIUM_NAMES = ("chromium", "chromium-browser")
CHROMIUM_ARGUMENTS = [
    "--no-sandbox",  # the tests may run as root, in a container
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]

hypothesis.settings.register_profile("steady", derandomize=True, deadline=None, max_examples=60, database=None)
hypothesis.settings.load_profile("steady")


def recordings_folder() -> Path | None:
    """Where the real recordings lie on this machine; they belong to others and are no part of the project."""
    given = os.environ.get("WITNESSMARK_RECORDINGS")
    folder = Path(given) if given else ROOT.parent / "shared" / "data"
    return folder if folder.is_dir() else None


def pytest_report_header() -> str:
    if recordings_folder():
        return "real recordings: found"
    return "real recordings: none (set WITNESSMARK_RECORDINGS); the tests on them are skipped"


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """What takes minutes is run where it is asked for: WITNESSMARK_LONG=1."""
    if os.environ.get("WITNESSMARK_LONG"):
        return
    for item in items:
        if item.get_closest_marker("long") is not None:
            item.add_marker(pytest.mark.skip(reason="takes long: set WITNESSMARK_LONG=1"))


@pytest.fixture(scope="session")
def recordings() -> Path:
    """Folder of the real recordings; skips where there is none."""
    folder = recordings_folder()
    if folder is None:
        pytest.skip("no real recordings here: WITNESSMARK_RECORDINGS names no folder, and ../shared/data is not there")
    return folder


@pytest.fixture
def rng() -> np.random.Generator:
    """Random numbers, the same in every run."""
    return np.random.default_rng(SEED)


@pytest.fixture(scope="session", autouse=True)
def _shop_folder_of_the_tests(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Keep the tests away from the shop folder of whoever runs them, in this process and in those it starts."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("WITNESSMARK_HOME", str(tmp_path_factory.mktemp("shop")))
        yield


@pytest.fixture(scope="session", autouse=True)
def _tables_of_the_tests(pytestconfig: pytest.Config, tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Tables that take seconds to make are made once for all workers, and for the next run; nobody's own are touched.

    What they are kept under is a digest of all that goes into them, so that none outlives a change of the physics.
    """
    cache = getattr(pytestconfig, "cache", None)
    folder = tmp_path_factory.mktemp("tables") if cache is None else cache.mkdir("witnessmark-tables")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("WITNESSMARK_CACHE", str(folder))
        yield


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Headless Chromium of the machine; skips where there is none."""
    program = next(filter(None, map(shutil.which, CHROMIUM_NAMES)), None)
    if program is None:
        pytest.skip("no Chromium here (on Debian: apt-get install chromium fonts-dejavu-core fonts-liberation)")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=program, args=CHROMIUM_ARGUMENTS)
        yield opened
        opened.close()
