"""A real browser, driven by a kept library; where there is none a test is skipped, and fails where a machine builds."""

import os
import shutil
from contextlib import contextmanager

import pytest

NAMES = ("chromium", "chromium-browser", "google-chrome")


@contextmanager
def browser():
    """Give a browser of this machine."""
    from playwright.sync_api import sync_playwright

    found = next(filter(None, map(shutil.which, NAMES)), None)
    if found is None:
        (pytest.fail if os.environ.get("CI") else pytest.skip)("no Chromium on this machine")
    with sync_playwright() as driver:
        # As root it does not start in its sandbox; it sees only pages of this test.
        started = driver.chromium.launch(executable_path=found, args=["--no-sandbox"])
        try:
            yield started
        finally:
            started.close()
