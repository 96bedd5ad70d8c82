"""What is missing from a stream stays missing: nothing is pieced together across it, or kept for
ever while its end is awaited. A frame no board ever sent has counts that no crank ever had."""

import pytest

from strokewise.analysis.samples import Health
from strokewise.daq.recording.container import (
    Chunk,
    Hole,
    Jotting,
    encode_header,
    encode_item,
    open_contents,
)
from strokewise.daq.wire.decoder import Decoder, Tally
from strokewise.daq.wire.encoder import FrameEncoder
from strokewise.daq.wire.frames import Event, Loss, SampleBlock
from strokewise.daq.wire.framing import JUNK, MAX_FRAME, Splitter, unwrap, wrap
from strokewise.daq.wire.intake import Intake
from strokewise.daq.wire.join import join


def test_noise_without_a_delimiter_is_dropped_and_leaves_one_piece_of_junk() -> None:
    """A port that babbles must not fill the memory, nor its last bytes pass for a frame."""
    splitter = Splitter(b"\0")
    for _ in range(3):
        assert splitter.feed(b"\x55" * (MAX_FRAME - 1)) == []
        assert splitter.waiting <= MAX_FRAME
    whole = wrap(b"E\1" + bytes(9))
    # its first delimiter ends the noise: what stands in front of it is none of ours
    assert splitter.feed(whole) == [JUNK]
    assert splitter.feed(whole) == [whole[:-1]]
    assert not splitter.joining


@pytest.mark.parametrize("cut", [1, MAX_FRAME - 1, MAX_FRAME, MAX_FRAME + 1, MAX_FRAME + 30])
def test_too_long_is_junk_however_it_arrives(cut: int) -> None:
    long = b"\x55" * (MAX_FRAME + 1) + b"\0"
    at_once, in_parts = Splitter(b"\0"), Splitter(b"\0")
    expected = at_once.feed(long + b"ab\0")
    assert expected == [JUNK, b"ab"]
    assert in_parts.feed(long[:cut]) + in_parts.feed(long[cut:] + b"ab\0") == expected
    longest = Splitter(b"\0")
    assert longest.feed(b"\x55" * MAX_FRAME + b"\0") == [b"\x55" * MAX_FRAME]


def test_after_a_hole_what_was_too_long_is_over() -> None:
    splitter = Splitter(b"\0")
    splitter.feed(b"cd\0" + b"\x55" * (MAX_FRAME + 1))
    assert not splitter.joining
    splitter.skip()
    assert splitter.joining
    assert splitter.feed(b"ab\0") == [b"ab"]


@pytest.mark.parametrize("size", [0, 1, 2])
def test_a_frame_without_room_for_type_and_crc_is_none(size: int) -> None:
    assert unwrap(wrap(bytes(size))[:-1]) == (bytes(size) or None)
    assert unwrap(bytes(size)) is None


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (b"E,900,4,2", b"5\n"),  # a mark that no board has: input 25
        (wrap(b"E\1" + bytes(9))[:6], wrap(b"E\1" + bytes(9))[6:]),
    ],
)
def test_neither_reading_pieces_a_frame_together_across_a_hole(before: bytes, after: bytes) -> None:
    """While neither form has proven itself, both must forget what they half heard."""
    whole = Decoder()
    assert len(whole.feed(before + after)) == 1
    decoder = Decoder()
    assert decoder.feed(before) == []
    assert decoder.skip() == [Loss()]
    assert decoder.waiting == 0
    assert decoder.feed(after) == []
    assert decoder.tally == Tally()


def test_a_line_that_waits_is_heard_before_the_hole() -> None:
    """The sample came whole, and only waits for the next to bear its time out."""
    decoder = Decoder()
    assert decoder.feed(b"S,1000,10,100\n") == []
    assert decoder.skip() == [SampleBlock.single(1000, 10, [100]), Loss()]
    assert decoder.feed(b"S,2000,10,100\nS,3000,10,100\n") == [SampleBlock.single(2000, 10, [100])]


def test_behind_a_second_header_nothing_follows_on_what_came_before() -> None:
    """One recording ends within a frame that the other happens to go on with."""
    encoder = FrameEncoder()
    sent = [encoder.encode(Event(1000 * k, 10 * k, 0)) for k in range(1, 5)]
    stream = b"".join(sent)
    middle = len(sent[0]) + 5
    parts = [
        encode_header({"started": "first"}),
        encode_item(Chunk(1, stream[:middle])),
        encode_header({"started": "second"}),
        encode_item(Chunk(2, stream[middle:])),
        encode_item(Jotting(3, note="kept")),
    ]
    contents = open_contents(b"".join(parts))
    assert contents is not None
    assert contents.header["started"] == "first"
    assert contents.items == (
        Chunk(1, stream[:middle]),
        Hole(0),
        Chunk(2, stream[middle:]),
        Jotting(3, note="kept"),
    )
    intake = Intake()
    blocks = intake.feed(contents.items) + intake.finish()
    events = [event for part in join(blocks) for event in part.events.count.tolist()]
    assert 20 not in events
    assert intake.health.missing_bytes == 0


def test_a_header_in_front_makes_no_hole() -> None:
    contents = open_contents(encode_header({"started": "x"}) + encode_item(Chunk(1, b"ab")))
    assert contents is not None
    assert contents.items == (Chunk(1, b"ab"),)
    assert Intake().health == Health()


def test_what_waits_is_what_the_likelier_reading_holds_back() -> None:
    """A press is timed by the bytes heard last: held back too many, it would be set too early."""
    decoder = Decoder()
    decoder.feed(b"abc\0de")
    assert decoder.waiting == 2
    decoder.feed(b"\nf")
    assert decoder.waiting == 1
