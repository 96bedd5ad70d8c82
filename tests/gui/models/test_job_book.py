"""What is typed in the window goes into the job as the command line would put it there."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from strokewise.analysis.errors import InputError
from strokewise.analysis.valves.clearances import Gap, GapCheck
from strokewise.gui.cli import main
from strokewise.gui.found import unwatched
from strokewise.gui.job.job import read_job
from strokewise.gui.models.jobs.job_book import JobBook
from strokewise.gui.models.jobs.job_lines import (
    answer_entries,
    gap_entries,
    note_entries,
    task_lines,
    valve_names,
)
from strokewise.gui.models.jobs.keep_shown import Shown, keep_shown

CRANKED = Path(__file__).parents[3] / "recordings" / "cranked.swr"
NOW = datetime(2025, 3, 4, 10, 30, tzinfo=UTC)
FOUR = 'cylinders = 4\nfiring_order = [1, 3, 4, 2]\n[valves]\nclearance_exhaust = "0.35 mm"\n'


@pytest.fixture
def book(tmp_path):
    """A book with a new job open in it."""
    made = JobBook(lambda: NOW)
    made.make(tmp_path / "bench-four", "a club")
    made.initials = "AB"
    return made


def test_nothing_goes_into_no_job():
    book = JobBook(lambda: NOW)
    with pytest.raises(InputError, match="press F8"):
        book.note("x")
    assert not book.is_open


def test_a_job_is_made_and_opened_by_folder_or_head_file(book, tmp_path):
    assert (book.job.name, book.job.made_for) == ("bench-four", "a club")
    again = JobBook()
    for path in (tmp_path / "bench-four", book.head_file):
        assert again.open(path) == "Job “bench-four” is open"
        assert again.job == book.job
    with pytest.raises(InputError, match="no job in this folder"):
        again.open(tmp_path)


def test_a_tick_needs_initials_and_a_day(book):
    book.tick("oil-rockers", "")
    assert task_lines(book.job)[0].done == "2025-03-04 AB"
    book.day = "2025-02-30"
    with pytest.raises(InputError, match="no day of the calendar"):
        book.tick("two-turns-by-hand", "")
    book.day, book.initials = "2025-02-28", " "
    with pytest.raises(InputError, match="initials"):
        book.tick("two-turns-by-hand", "")
    book.initials = "CD"
    assert book.tick("two-turns-by-hand", "slowly") == "Ticked; 5 of 7 still to do"
    assert task_lines(book.job)[1].done == "2025-02-28 CD: slowly"
    book.tick("two-turns-by-hand", "", done=False)
    assert task_lines(book.job)[1].done == ""


def test_gaps_and_notes_come_out_as_lines(book, tmp_path):
    profile = tmp_path / "bench.toml"
    profile.write_text(FOUR)
    book.take_profile(profile)
    assert valve_names(book.profile)[:2] == ("1E", "1I")
    book.measure("1e", ("0.40 mm", "", ""), "", "")
    book.measure("1E", ("", "0.36 mm", "0.35 mm"), "", "")
    with pytest.raises(InputError, match="no gap was typed"):
        book.measure("1E", ("", "", ""), "", "")
    with pytest.raises(InputError, match="say which gap is wanted"):
        book.measure("1I", ("0.3 mm", "", ""), "", "")
    book.measure("1I", ("0.3 mm", "", ""), "12 thou", "after first running")
    (first, second) = gap_entries(book.job, book.profile)
    assert first.words.startswith("1E: GOOD: right")
    assert second.words.startswith("1I, after first running: GOOD: as found right")
    assert book.undo(first.number) == f"Taken back: gaps {first.number} of 1E"
    assert book.job.gaps()[0].nipped_mm is None  # and what was found before it counts again
    book.note("No. 2 plug thread repaired")
    (noted,) = note_entries(book.job)
    assert noted.words == "2025-03-04: No. 2 plug thread repaired"
    assert book.undo(noted.number) == f"Taken back: note {noted.number}"
    assert note_entries(book.job) == ()


def test_an_answer_shown_is_kept_as_the_command_would(book, capsys):
    said = keep_shown(book.job.folder, Shown("find", (CRANKED,), {}), NOW, unwatched)
    assert said.startswith("Kept 002-answer-find.json, about the whole recording: ")
    assert main(["job", "new", str(book.job.folder.with_name("other"))]) == 0
    main(["job", "add", str(book.job.folder.with_name("other")), str(CRANKED)])
    (kept,), (other,) = (
        read_job(folder).answers for folder in (book.job.folder, book.job.folder.with_name("other"))
    )
    assert (kept.asked, kept.answer, kept.page) == (other.asked, other.answer, other.page)
    capsys.readouterr()
    assert main(["job", "show", str(book.job.folder), "--check"]) == 3
    assert "All 1 answers come out the same" in capsys.readouterr().out
    book.read_again()
    recordings, answers = answer_entries(book.job)[-2:]
    assert (recordings.number, recordings.words) == (1, "Recording 001-recording-cranked.swr")
    assert answers.words.startswith("Answer 2: find about 001-")
    book.initials = "CD"
    with pytest.raises(InputError, match="is what answer 2 came from"):
        book.undo(recordings.number)
    assert book.undo(answers.number) == "Taken back: answer 2"
    assert book.undo(recordings.number) == "Taken back: recording 1"
    assert (book.job.answers, book.job.recordings) == ((), ())


def test_a_gap_measured_where_its_valve_is_not_free_is_not_kept(book):
    free = GapCheck(Gap("1E", 0.35, 0.35), "good", 0.0, None)
    lifted = GapCheck(Gap("2I", 0.3, 0.9), "valve not free", None, None, 90.0)
    said = keep_shown(
        book.job.folder, Shown("valves", (CRANKED,), {}, gaps=(free, lifted)), NOW, unwatched
    )
    assert said.endswith("Not kept, as their valves were not free: 2I")
    assert [gap.valve for gap in read_job(book.job.folder).gaps()] == ["1E"]
