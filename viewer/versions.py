"""Versions of what is installed; loaded only where it is asked for, because looking them up costs start-up time."""

from importlib.metadata import PackageNotFoundError, version


def version_of(package: str) -> str:
    """The installed version of a package."""
    try:
        return version(package)
    except PackageNotFoundError:
        return "unknown"
