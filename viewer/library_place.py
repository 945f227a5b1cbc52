"""Where a person's own library is: the same for the window and for the commands."""

import os
from pathlib import Path
from typing import TYPE_CHECKING

from loomlight.storage.places import LIBRARY_VARIABLE, library_folder

if TYPE_CHECKING:
    from loomlight.viewer.settings import Settings


def own_library_folder(settings: "Settings | None" = None) -> Path:
    """The variable ``LOOMLIGHT_LIBRARY`` comes first, then the folder of the window's settings, then the usual place.

    Parameters
    ----------
    settings : Settings, optional
        The window's; without them they are read, which needs no screen.
    """
    if os.environ.get(LIBRARY_VARIABLE):
        return library_folder()
    if settings is None:
        from loomlight.viewer.settings import Settings

        settings = Settings()
    return settings.library_folder or library_folder()
