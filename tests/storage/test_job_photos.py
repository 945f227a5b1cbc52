"""Photos in the job folder: copied in at once, once each, with a caption; found again after damage."""

from pathlib import Path

import pytest
from PySide6.QtGui import QColor, QImage

from loomlight.signal.errors import FileProblem
from loomlight.storage.job_folder import JobFolder
from loomlight.storage.job_photos import add_photo, leave_out, set_caption


@pytest.fixture
def folder(tmp_path: Path) -> JobFolder:
    return JobFolder.create(tmp_path / "job", title="Blower")


def photo(path: Path, colour: str) -> Path:
    image = QImage(8, 8, QImage.Format.Format_RGB32)
    image.fill(QColor(colour))
    assert image.save(str(path))
    return path


def test_a_photo_is_copied_in_with_its_caption(folder: JobFolder, tmp_path: Path) -> None:
    source = photo(tmp_path / "IMG 0001.JPG", "red")
    kept = add_photo(folder, source, "pin 7, green with corrosion")
    source.unlink()
    assert kept.file == "IMG 0001.jpg"
    set_caption(folder, kept.file, "pin 7")
    again = JobFolder.open(folder.path)
    assert [(one.file, one.caption) for one in again.job.photos] == [("IMG 0001.jpg", "pin 7")]
    assert (again.path / "photos" / kept.file).stat().st_size > 0


def test_the_same_picture_is_kept_once_and_another_of_the_same_name_beside_it(
    folder: JobFolder, tmp_path: Path
) -> None:
    first = add_photo(folder, photo(tmp_path / "a.png", "red"))
    assert add_photo(folder, tmp_path / "a.png") == first
    second = add_photo(folder, photo(tmp_path / "a.png", "blue"))
    assert [one.file for one in folder.job.photos] == [first.file, second.file] == ["a.png", "a-2.png"]


def test_leaving_one_out_keeps_its_file(folder: JobFolder, tmp_path: Path) -> None:
    kept = add_photo(folder, photo(tmp_path / "a.png", "red"))
    leave_out(folder, kept.file)
    assert folder.job.photos == ()
    assert (folder.path / "photos" / kept.file).exists()


def test_what_is_no_photo_is_refused_and_nothing_is_kept(folder: JobFolder, tmp_path: Path) -> None:
    (tmp_path / "a.jpg").write_text("no picture")
    with pytest.raises(FileProblem, match="neither a JPEG nor a PNG"):
        add_photo(folder, tmp_path / "a.jpg")
    assert not any((folder.path / "photos").iterdir())


def test_photos_are_found_again_when_the_job_file_is_damaged(folder: JobFolder, tmp_path: Path) -> None:
    add_photo(folder, photo(tmp_path / "a.png", "red"))
    add_photo(folder, photo(tmp_path / "b.png", "blue"))
    (folder.path / "job.json").write_bytes(b"{")
    assert [one.file for one in JobFolder.open(folder.path).job.photos] == ["a.png", "b.png"]
