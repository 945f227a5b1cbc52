"""Where the stand-alone program begins."""

import multiprocessing

from loomlight.viewer.command_line import main

if __name__ == "__main__":
    multiprocessing.freeze_support()
    raise SystemExit(main())
