"""What is wrong with a recording file is said in one line: what, where, and what to do."""

from __future__ import annotations

from pathlib import Path

import pytest

from strokewise.daq.recording.container import (
    CONTAINER_FORMAT,
    Chunk,
    Contents,
    Hole,
    Jotting,
    Reopened,
    encode_header,
    encode_item,
    open_contents,
    parts_of,
    read_file,
)
from strokewise.daq.wire.framing import wrap


def said_of(path: Path) -> str:
    with pytest.raises(Exception, match=path.name) as caught:
        read_file(path)
    return str(caught.value).replace(str(path), "FILE")


def test_each_way_in_which_a_file_is_no_recording(tmp_path: Path) -> None:
    (tmp_path / "empty.swr").touch()
    (tmp_path / "folder.swr").mkdir()
    assert said_of(tmp_path / "gone.swr") == ("FILE: no such file; check the name and the folder")
    assert said_of(tmp_path / "folder.swr") == "FILE is a folder; name a recording in it"
    assert said_of(tmp_path / "empty.swr") == "FILE is empty; nothing was recorded into it"
    assert said_of(tmp_path / "empty.swr" / "x.swr").startswith("FILE cannot be read: ")


def test_nothing_is_written_from_before_the_start() -> None:
    with pytest.raises(ValueError, match=r"^host time -5 µs lies before the start of the recordi"):
        encode_item(Chunk(-5, b"x"))
    assert encode_item(Chunk(0, b"x"))


def test_a_recording_comes_back_as_it_was_written() -> None:
    """Each item by its own kind: a press is no note, a port opened anew is neither."""
    items = (
        Chunk(70_000, b"ab\0c"),
        Jotting(80_001, "looked at it"),
        Jotting(90_002, None, "notch"),
        Reopened(300_003, "unplugged"),
        Chunk(400_004, b"\xff"),
    )
    data = encode_header({"engine": 3}) + b"".join(map(encode_item, items))
    contents = open_contents(data)
    assert contents is not None
    assert contents.items == items
    assert contents.header["engine"] == 3


def test_what_belongs_to_nothing_whole_is_a_hole_of_its_size() -> None:
    frame = encode_item(Chunk(7, b"ab"))
    lost = b"\x05junk\0"
    assert open_contents(frame + lost + frame) == Contents(
        {}, (Chunk(7, b"ab"), Hole(len(lost)), Chunk(7, b"ab"))
    )
    assert open_contents(frame + frame[:-3]) == Contents(
        {}, (Chunk(7, b"ab"), Hole(len(frame) - 3))
    )
    assert open_contents(frame + wrap(b"Q" + bytes(9))) == Contents(
        {}, (Chunk(7, b"ab"), Hole(len(wrap(b"Q" + bytes(9)))))
    )


def test_a_header_behind_what_was_lost_is_another_recordings() -> None:
    """Two recordings in one file are never joined: nothing says how the encoder moved between."""
    head, lost = encode_header({"a": 1}), b"\x05junk\0"
    first, other = ({"format": CONTAINER_FORMAT, "a": 1},) * 2
    assert list(parts_of(head + head)) == [first, other]
    assert list(parts_of(lost + head + head)) == [Hole(len(lost)), first, Hole(0), other]
    chunk = Chunk(7, b"ab")
    assert list(parts_of(head + encode_item(chunk) + head)) == [first, chunk, Hole(0), other]


@pytest.mark.parametrize(
    ("data", "may"), [(b"\x05R{", True), (b"\x05R", True), (b"\x05", True), (b"\x05RQ", False)]
)
def test_the_damaged_beginning_of_a_recording_may_be_one(data: bytes, may: bool) -> None:
    assert (open_contents(data) is not None) is may
