"""A whole job, from its recording to a sheet with a photo: by the keys alone, by mouse alone."""

import pytest
from PIL import Image

from strokewise.gui.job.job import read_job

SURE = "· SURE, TDC ±"


@pytest.fixture
def photo(tmp_path):
    """A photo, alone in its folder, of a camera that was held upright."""
    folder = tmp_path / "photos"
    folder.mkdir()
    exif = Image.Exif()
    exif[0x0112] = 6
    Image.new("RGB", (800, 600), "gray").save(folder / "pulley notch.jpg", exif=exif)
    return folder / "pulley notch.jpg"


def is_whole(folder, caption, noted):
    """See that all of the job is there, and on its sheet."""
    job = read_job(folder)
    assert job.tick_of("oil-rockers").initials == "AB"
    assert [kept.command for kept in job.answers] == ["find"]
    assert job.answers[0].answer["decided"] is True
    assert job.caption_of(job.photos[0]) == caption
    assert [note.text for note in job.notes] == noted
    html = folder.with_name(f"{folder.name}-sheet.html").read_text(encoding="utf-8")
    assert 'src="data:image/jpeg;base64,' in html
    assert "☑ Oil rockers" in html
    pdf = folder.with_name(f"{folder.name}-sheet.pdf").read_bytes()
    assert pdf.startswith(b"%PDF-")
    assert b"/Subtype /Image" in pdf


def test_a_whole_job_to_its_sheet_by_the_keys_alone(open_window, recording, photo, tmp_path):
    folder = tmp_path / "head-on"
    hands = open_window("replay", recording)
    hands.until_title(SURE)
    hands.strike("F8")
    hands.type("a club")
    hands.strike("Return")
    hands.enter_in_dialog("Folder of the new job", folder)
    hands.wait((folder / "job.toml").exists, "the job")
    hands.type("AB")
    hands.strike("Tab", "Tab", "Tab", "Tab", "space")  # day, tasks, note, tick
    hands.wait(lambda: read_job(folder).ticks, "the tick")
    hands.strike("F8", "F8")
    hands.type("Head bolts\t40 Nm + 90 deg\twrench 7\t")
    hands.strike("Return")
    hands.wait(lambda: read_job(folder).torques, "the torque")
    hands.strike("F8")
    hands.type("No. 2 plug thread repaired")
    hands.strike("Return")
    hands.wait(lambda: read_job(folder).notes, "the note")
    hands.type("\tnotch at its pointer\t\t ")  # over the note's button, onto the photo's
    hands.enter_in_dialog("Photo", photo)
    hands.wait(lambda: read_job(folder).photos, "the photo")
    hands.strike("F8", "space")
    hands.wait(lambda: read_job(folder).answers, "the answer")
    hands.strike("F8", "Tab", "space")
    hands.wait(folder.with_name("head-on-sheet.html").exists, "the sheet")
    assert read_job(folder).made_for == "a club"
    assert read_job(folder).torques[0].value == "40 N·m + 90°"
    is_whole(folder, "notch at its pointer", ["No. 2 plug thread repaired"])
    hands.close()


def test_a_whole_job_to_its_sheet_by_the_mouse_alone(open_window, recording, photo, tmp_path):
    config = tmp_path / "config"
    config.mkdir()
    (config / "user-dirs.dirs").write_text(f'XDG_PICTURES_DIR="{photo.parent}"\n')
    hands = open_window("replay", recording, initials="AB")  # typed once, for another job
    hands.until_title(SURE)
    hands.click("The job; again: its next part")
    hands.click("New job …")
    hands.click("Save")  # called as it is offered
    folder = hands.wait(lambda: next(tmp_path.glob("job-*"), None), "the job")
    hands.click("☐ Oil rockers*")
    hands.click("Tick")
    hands.wait(lambda: read_job(folder).ticks, "the tick")
    hands.click("Notes, photos*")
    hands.click("Photo …")
    hands.click(photo.name)
    hands.click("Open")
    hands.wait(lambda: read_job(folder).photos, "the photo")
    hands.click("Answers: none")
    hands.click("Keep the answer shown (K)")
    hands.wait(lambda: read_job(folder).answers, "the answer")
    # The parts stand elsewhere once it is told: a click before that would miss.
    hands.wait(lambda: not hands._uncovered("Answers: none"), "the answer told")
    hands.click("Sheet")
    hands.click("Make the sheet")
    hands.wait(folder.with_name(f"{folder.name}-sheet.html").exists, "the sheet")
    is_whole(folder, "pulley notch", [])
    hands.click("All actions and their keys")
    hands.click("Close the window")
    assert hands.process.wait(60) == 0
