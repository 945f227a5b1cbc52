"""The head of a report, from the person's settings."""

from pathlib import Path

from loomlight.signal.errors import FileProblem
from loomlight.viewer.report_blocks import Business
from loomlight.viewer.report_picture import encoded, image_of
from loomlight.viewer.settings import Details


def business_of(details: Details) -> Business:
    """Business details with the logo's bytes.

    Raises
    ------
    FileProblem
        If a logo is named and cannot be used.
    """
    logo = logo_bytes(Path(details.logo).expanduser()) if details.logo.strip() else b""
    return Business(details.name, details.address, details.contact, details.tax_number, logo)


def logo_bytes(path: Path) -> bytes:
    """A logo as PNG bytes.

    Raises
    ------
    FileProblem
        If it cannot be read, or is no picture.
    """
    do = "Choose another logo in the business details, or none"
    try:
        image = image_of(path.read_bytes())
    except OSError as error:
        raise FileProblem(f"it cannot be read ({error.strerror or error})", file=path, do=do) from error
    if image.isNull():
        raise FileProblem("it is no PNG or JPEG picture", file=path, do=do)
    return encoded(image, "PNG")
