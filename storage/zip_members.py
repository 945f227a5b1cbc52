"""Members of a zip file that are the same bytes wherever and whenever they are packed."""

import zipfile

PACKED_ALREADY = (".png", ".jpg", ".jpeg", ".pdf", ".zip", ".gz")
MOMENT = (1980, 1, 1, 0, 0, 0)
"""The first that a zip file can name (PKWARE APPNOTE, 4.4.6)."""
UNIX, PLAIN_FILE = 3, 0o100644


def member(name: str) -> zipfile.ZipInfo:
    """What a zip file says of one file in it; a form that is packed by itself is stored as it is."""
    info = zipfile.ZipInfo(name, MOMENT)
    info.compress_type = zipfile.ZIP_STORED if name.lower().endswith(PACKED_ALREADY) else zipfile.ZIP_DEFLATED
    info.create_system = UNIX
    info.external_attr = PLAIN_FILE << 16
    return info
