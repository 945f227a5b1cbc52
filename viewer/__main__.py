"""``python -m loomlight.viewer``: the same as the command ``loomlight``."""

from loomlight.viewer.command_line import main

if __name__ == "__main__":
    raise SystemExit(main())
