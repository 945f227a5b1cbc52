"""``loomlight demo``: the window with a fresh copy of the sample job."""

import argparse
import importlib


def add_options(parser: argparse.ArgumentParser) -> None:
    """``demo`` has no options."""


def run(arguments: argparse.Namespace) -> int:
    """Open the window."""
    application = importlib.import_module("loomlight.viewer.application")
    status: int = application.run_window([], demo=True)
    return status
