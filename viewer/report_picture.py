"""Pictures of a report: photos the right way up and no larger than a page needs."""

from pathlib import Path

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QSize, Qt
from PySide6.QtGui import QColor, QImage, QImageReader, QPainter

MOST_PIXELS = 3300
PHOTO_PIXELS = 1500
PHOTO_QUALITY = 88


def image_of(content: bytes) -> QImage:
    """An opaque picture from the bytes of a PNG or JPEG file; an empty one where they are damaged."""
    buffer = QBuffer()
    buffer.setData(content)
    buffer.open(QIODevice.OpenModeFlag.ReadOnly)
    reader = QImageReader(buffer)
    reader.setAutoTransform(True)
    size = reader.size()
    if size.isValid() and max(size.width(), size.height()) > MOST_PIXELS:
        reader.setScaledSize(size.scaled(QSize(MOST_PIXELS, MOST_PIXELS), Qt.AspectRatioMode.KeepAspectRatio))
    return _opaque(reader.read())


def photo_bytes(path: Path) -> bytes:
    """A photo as JPEG bytes, the right way up, fit for print; empty where the file is gone or damaged."""
    try:
        image = image_of(path.read_bytes())
    except OSError:
        return b""
    if image.isNull():
        return b""
    if max(image.width(), image.height()) > PHOTO_PIXELS:
        image = image.scaled(
            PHOTO_PIXELS,
            PHOTO_PIXELS,
            Qt.AspectRatioMode.KeepAspectRatio,
            Qt.TransformationMode.SmoothTransformation,
        )
    return encoded(image, "JPEG", PHOTO_QUALITY)


def encoded(image: QImage, kind: str, quality: int = -1) -> bytes:
    """A picture as bytes of a file; empty where it could not be encoded."""
    content = QByteArray()
    buffer = QBuffer(content)
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    saved = image.save(buffer, kind, quality)
    return content.data() if saved else b""


def _opaque(image: QImage) -> QImage:
    """On white: a clear ground prints as it looks."""
    if image.isNull() or not image.hasAlphaChannel():
        return image
    paper = QImage(image.size(), QImage.Format.Format_RGB32)
    paper.fill(QColor("white"))
    painter = QPainter(paper)
    painter.drawImage(0, 0, image)
    painter.end()
    return paper
