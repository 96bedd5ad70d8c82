"""The decoder holds for any bytes: nothing raised, nothing invented, little lost.

What frames a stream holds is told here by a second, slow decoder of our own, written from the
rules of COBS and of the CRC alone.
"""

import struct
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from strokewise.analysis.samples import Board
from strokewise.daq.wire.binary import BinaryReader
from strokewise.daq.wire.decoder import Decoder, Tally
from strokewise.daq.wire.encoder import FrameEncoder, encode_frame, encode_lines
from strokewise.daq.wire.frames import Event, Frame, Hello, Loss, SampleBlock
from strokewise.daq.wire.framing import MAX_FRAME, wrap

EXAMPLE = bytes.fromhex(
    "05 53 01 e8 03 01 02 0a 01 01 05 f4 01 02 01 01 02 64 02 02 02 65 03 78 85 00"
)

sequences = st.integers(0, 255)
times = st.integers(0, 2**32 - 1)
whole_counts = st.integers(-(2**31), 2**31 - 1)
names = st.lists(st.text(st.characters(codec="utf-8"), max_size=8), max_size=4).map(tuple)
boards = st.builds(
    Board,
    device=st.text(st.characters(codec="utf-8"), max_size=20),
    counts_per_rev=st.none() | st.integers(1, 2**31 - 1),
    adc_bits=st.none() | st.integers(1, 16),
    adc=names,
    boot=st.none() | st.integers(-(2**63), 2**64),
    marks=names,
)
events = st.builds(Event, times, whole_counts, st.integers(0, 255))


@st.composite
def sample_blocks(draw: st.DrawFn, max_n: int = 64) -> SampleBlock:
    n, channels = draw(st.integers(1, max_n)), draw(st.integers(1, 4))
    steps = draw(st.lists(st.integers(-(2**15), 2**15 - 1), min_size=n - 1, max_size=n - 1))
    rows = st.lists(st.integers(0, 2**16 - 1), min_size=channels, max_size=channels)
    start = draw(st.integers(-(2**30), 2**30))
    counts = [start]
    for step in steps:
        counts.append(counts[-1] + step)
    readings = draw(st.lists(rows, min_size=n, max_size=n))
    return SampleBlock.pack(draw(times), draw(st.integers(0, 65535)), counts, readings)


@st.composite
def line_runs(draw: st.DrawFn) -> list[Frame]:
    """Draw what a board may say in lines, no two alike; its time goes on, even past a wrap."""
    now = draw(times)
    run: list[Frame] = []
    for number in range(draw(st.integers(3, 8))):
        now = (now + draw(st.integers(1, 2_000_000))) % 2**32
        match draw(st.sampled_from("HSSSE")):
            case "H":
                run.append(Hello(replace(draw(boards), device=f"board {number}")))
            case "E":
                run.append(Event(now, draw(whole_counts), draw(st.integers(0, 255))))
            case _:
                readings = draw(st.lists(st.integers(0, 65535), min_size=1, max_size=4))
                run.append(SampleBlock.single(now, draw(whole_counts), readings))
    return run


frames = st.builds(Hello, boards) | events | sample_blocks(max_n=8)


def numbered(frame: Frame, sequence: int) -> Frame:
    """Return the frame as it comes back from the wire, under a number."""
    match frame:
        case Hello(board=board):
            return Hello(board, sequence)
        case Event():
            return Event(frame.t_us, frame.count, frame.input, sequence)
        case SampleBlock():
            return SampleBlock(frame.payload[:1] + bytes([sequence]) + frame.payload[2:], sequence)
    raise AssertionError(frame)


def plainly_whole(stream: bytes) -> list[bytes]:
    """Return the payloads between two zeros whose CRC holds, by a decoder of our own."""
    found = []
    for piece in stream.split(b"\0")[:-1]:
        body, at = bytearray(), 0
        while at < len(piece):
            code = piece[at]
            run = piece[at + 1 : at + code]
            if len(run) != code - 1:
                body = bytearray()
                break
            body += run
            at += code
            if code < 0xFF and at < len(piece):
                body.append(0)
        register = 0xFFFF
        for byte in body[:-2]:
            register ^= byte << 8
            for _ in range(8):
                register = ((register << 1) ^ (0x1021 if register & 0x8000 else 0)) & 0xFFFF
        if len(body) > 2 and struct.unpack("<H", body[-2:])[0] == register:
            found.append(bytes(body[:-2]))
    return found


def plainly_a_block(payload: bytes) -> bool:
    """Tell whether a payload is a block of samples by the letter of the format."""
    if payload[:1] != b"S" or len(payload) < 14:
        return False
    n, channels = payload[12], payload[13]
    fits = len(payload) == 14 + n * (2 + 2 * channels)
    return 1 <= n <= 64 and 1 <= channels <= 4 and fits and payload[14:16] == b"\0\0"


misfits = st.builds(
    lambda start, rest: wrap(start + rest),
    st.sampled_from([b"S\1", b"E\2", b"H\3", b"X\4", b"S\1" + bytes(10)]),
    st.binary(max_size=40),
)


@st.composite
def damaged_frames(draw: st.DrawFn) -> bytes:
    sent = bytearray(encode_frame(draw(frames), draw(sequences)))
    sent[draw(st.integers(0, len(sent) - 2))] ^= 1 << draw(st.integers(0, 7))
    return bytes(sent)


noise = st.one_of(
    damaged_frames(),
    st.binary(max_size=60),
    frames.flatmap(lambda frame: sequences.map(lambda n: encode_frame(frame, n))),
    frames.map(encode_lines),
    events.map(lambda event: encode_lines(event, checked=False)),
    frames.map(lambda frame: encode_frame(frame, 7)[3:]),
    misfits,
)
streams = st.lists(noise, max_size=12).map(b"".join)


def cut(stream: bytes, at: list[int]) -> list[bytes]:
    """Return the stream in parts."""
    edges = [0, *sorted(at), len(stream)]
    return [stream[a:b] for a, b in pairwise(edges)]


def decode(parts: list[bytes]) -> tuple[list[Frame], Tally]:
    decoder = Decoder()
    found = [frame for part in parts for frame in decoder.feed(part)] + decoder.finish()
    return found, decoder.tally


@settings(deadline=None, max_examples=200)
@given(streams)
@example(b"H," + b"[" * 4000 + b"\n")
@example(wrap(b"H\0" + b'{"a":' * 1200))
@example(wrap(b'H\0{"device":"\\ud800"}'))
@example(wrap(b'H\0{"counts_per_rev":1e999,"adc_bits":NaN}'))
@example(b"S,1,1," + b"9" * 3000 + b"\nE,1,1,256\nS,4294967296,0,0\n*00\n")
def test_no_bytes_raise_and_no_sample_is_invented(stream: bytes) -> None:
    reader = BinaryReader()
    found = reader.feed(stream)
    whole = plainly_whole(stream)
    blocks = [frame.payload for frame in found if isinstance(frame, SampleBlock)]
    assert blocks == [payload for payload in whole if plainly_a_block(payload)]
    decode([stream])


@settings(deadline=None, max_examples=120)
@given(streams, st.data())
def test_the_same_however_the_bytes_are_cut(stream: bytes, data: st.DataObject) -> None:
    at = data.draw(st.lists(st.integers(0, len(stream)), max_size=8))
    assert decode(cut(stream, at)) == decode([stream])
    assert decode([stream[i : i + 1] for i in range(len(stream))]) == decode([stream])


@settings(deadline=None)
@given(st.lists(frames, min_size=1, max_size=8), sequences)
def test_binary_there_and_back(sent: list[Frame], first: int) -> None:
    encoder = FrameEncoder(first)
    stream = b"".join(encoder.encode(frame) for frame in sent)
    found, tally = decode([stream])
    assert found == [numbered(frame, (first + k) % 256) for k, frame in enumerate(sent)]
    assert tally == Tally(frames=len(sent))


@settings(deadline=None)
@given(sample_blocks(), sequences)
def test_every_shape_of_block_there_and_back(block: SampleBlock, sequence: int) -> None:
    found, _ = decode([encode_frame(block, sequence)])
    assert found == [numbered(block, sequence)]
    assert found[0].counts.tolist() == block.counts.tolist()
    assert found[0].readings.tolist() == block.readings.tolist()


@settings(deadline=None)
@given(line_runs(), st.booleans(), st.sampled_from([b"\n", b"\r\n"]))
def test_lines_there_and_back(sent: list[Frame], checked: bool, ending: bytes) -> None:
    stream = b"".join(encode_lines(frame, checked=checked) for frame in sent)
    found, tally = decode([stream.replace(b"\n", ending)])
    assert found == sent
    assert tally == Tally(frames=len(sent), unchecked_lines=0 if checked else len(sent))


@settings(deadline=None, max_examples=120)
@given(st.lists(frames, min_size=3, max_size=8), st.data())
def test_one_damaged_byte_costs_at_most_the_frames_it_touches(
    sent: list[Frame], data: st.DataObject
) -> None:
    encoder = FrameEncoder()
    pieces = [encoder.encode(frame) for frame in sent]
    stream = bytearray(b"".join(pieces))
    where = data.draw(st.integers(0, len(stream) - 1))
    stream[where] ^= data.draw(st.integers(1, 255))

    owner = [k for k, piece in enumerate(pieces) for _ in piece]
    touched = {owner[where]}
    if where + 1 == len(stream) or owner[where + 1] != owner[where]:  # the delimiter
        touched.add(owner[where] + 1)
    reader = BinaryReader()
    untouched = [numbered(f, k) for k, f in enumerate(sent) if k not in touched]
    assert reader.feed(bytes(stream)) == untouched
    assert reader.good == len(untouched)


@settings(deadline=None, max_examples=120)
@given(line_runs(), st.booleans(), st.data())
def test_one_damaged_byte_costs_at_most_two_lines(
    sent: list[Frame], checked: bool, data: st.DataObject
) -> None:
    lines = [encode_lines(frame, checked=checked) for frame in sent]
    stream = bytearray(b"".join(lines))
    where = data.draw(st.integers(0, len(stream) - 1))
    stream[where] = data.draw(st.integers(0, 255).filter(lambda value: value != stream[where]))
    owner = [k for k, line in enumerate(lines) for _ in line]
    touched = {owner[where]}
    if where + 1 == len(stream) or owner[where + 1] != owner[where]:  # the line feed
        touched.add(owner[where] + 1)
    found, _ = decode([bytes(stream)])
    missing = {k for k, frame in enumerate(sent) if frame not in found}
    # A time that is wrong by less than a step may speak against the line before it instead.
    assert missing <= touched if checked else len(missing) <= 2
    kept = [frame for k, frame in enumerate(sent) if k not in missing]
    assert [frame for frame in found if frame in kept] == kept


def test_an_unproven_line_whose_time_cannot_be_is_dropped() -> None:
    before = [b"S,1000000,9,5\n", b"S,1000500,10,5\n", b"E,1000600,10,1\n"]
    after = [b"S,1001500,12,5\n"]
    for broken in (b"S,100100,11,5\n", b"S,9001000,11,5\n", b"S,99,11,5\n"):
        found, tally = decode([b"".join([*before, broken, *after])])
        assert found == [
            SampleBlock.single(1_000_000, 9, [5]),
            SampleBlock.single(1_000_500, 10, [5]),
            Event(1_000_600, 10, 1),
            Loss(),
            SampleBlock.single(1_001_500, 12, [5]),
        ]
        assert tally == Tally(frames=4, bad_frames=1, unchecked_lines=4)


def test_a_first_unproven_line_does_not_speak_against_those_that_follow() -> None:
    found, _ = decode([b"S,1200,0,5\nS,1000,0,5\nS,1500,0,5\nS,2000,0,5\n"])
    assert [f.start_us for f in found if isinstance(f, SampleBlock)] == [1200, 1500, 2000]


def test_one_line_in_unproven_lines_is_no_restart_and_two_damaged_ones_are_none() -> None:
    times = [90_000_000, 90_001_000, 9_002_000, 9_003_000, 90_004_000, 90_005_000]
    found, tally = decode([b"S,%d,1,5\n" % t for t in times])
    kept = [t for t in times if t >= 90_000_000]
    assert [f.start_us for f in found if isinstance(f, SampleBlock)] == kept
    assert tally == Tally(frames=4, bad_frames=2, unchecked_lines=4)


def test_an_unproven_event_far_from_its_samples_is_dropped() -> None:
    lines = [b"S,90000000,1,5\n", b"E,9000500,1,0\n", b"S,90001000,1,5\n"]
    found, tally = decode(lines)
    assert [type(f) for f in found] == [SampleBlock, Loss, SampleBlock]
    assert tally == Tally(frames=2, bad_frames=1, unchecked_lines=2)


def test_a_restart_in_unproven_lines_stays_one() -> None:
    starts = [90_000_000, 90_001_000, 700, 1700, 2700]
    found, tally = decode([b"S,%d,1,5\n" % t for t in starts])
    assert [f.start_us for f in found if isinstance(f, SampleBlock)] == starts
    assert tally.bad_frames == 0


def test_a_damaged_checked_line_leaves_a_loss_in_its_place() -> None:
    lines = [encode_lines(Event(t, t, 1)) for t in (1, 2, 3)]
    lines[1] = lines[1].replace(b"2", b"4", 1)
    found, tally = decode([b"".join(lines)])
    assert found == [Event(1, 1, 1), Loss(), Event(3, 3, 1)]
    assert tally == Tally(frames=2, bad_frames=1)


def test_reads_the_example_of_the_wire_format() -> None:
    found, tally = decode([EXAMPLE])
    assert found == [SampleBlock.pack(1000, 500, [10, 12], [100, 101], 1)]
    assert tally == Tally(frames=1)
    assert encode_frame(found[0]) == EXAMPLE


def test_what_stands_before_the_first_delimiter_is_no_damage() -> None:
    assert decode([EXAMPLE[9:] + EXAMPLE]) == decode([EXAMPLE])
    assert decode([b"\0" + EXAMPLE[9:] + EXAMPLE])[1] == Tally(frames=1, bad_frames=1)
    line = encode_lines(Event(1, 2, 3))
    assert decode([line[4:] + line])[1] == Tally(frames=1)


def test_what_is_cut_off_at_the_end_is_no_damage() -> None:
    assert decode([EXAMPLE + EXAMPLE[:9]]) == decode([EXAMPLE])
    assert decode([b"E,1,2,3\nE,4,5,67"])[0] == [Event(1, 2, 3)]


def test_idle_zeros_are_no_damage() -> None:
    assert decode([b"\0\0\0" + EXAMPLE + b"\0\0"]) == decode([EXAMPLE])


@pytest.mark.parametrize("delimiter", [b"\0", b"\n"])
def test_a_piece_too_long_to_be_anything_counts_once_and_is_not_kept(delimiter: bytes) -> None:
    good = EXAMPLE if delimiter == b"\0" else b"E,1,2,3\n"
    decoder = Decoder()
    decoder.feed(good)
    for _ in range(5):
        decoder.feed(b"\x55" * MAX_FRAME)
        assert decoder.waiting <= MAX_FRAME
    found = [f for f in decoder.feed(delimiter + good) if not isinstance(f, Loss)]
    assert len(found) == 1
    assert decoder.tally.bad_frames == 1


@pytest.mark.parametrize(
    "body",
    [
        b"S\1" + bytes(12) + b"\0\0\1\0",  # n is 0
        b"S\1" + bytes(10) + b"\1\5" + bytes(12),  # five channels
        b"S\1" + bytes(10) + b"\1\1" + b"\1\0" + b"\0\0",  # the first step is not 0
        b"S\1" + bytes(10) + b"\2\1" + bytes(4),  # two samples told, one sent
        b"S\1" + bytes(10) + b"\1\1" + bytes(5),  # a byte too many
        b"S\1",
        b"E\1" + bytes(8),
        b"E\1" + bytes(10),
        b"H\1",
        b"H\1[]",
        b'H\1{"format":2}',
        b"Q\1" + bytes(9),
        b"S",
    ],
)
def test_a_body_that_does_not_fit_its_type_is_a_bad_frame(body: bytes) -> None:
    assert decode([EXAMPLE + wrap(body) + EXAMPLE])[1] == Tally(frames=2, bad_frames=1)


@pytest.mark.parametrize(
    "line",
    [
        "S,1,2", "S,1,2,3,4,5,6,7", "S,-1,2,3", "S,1,2,65536", "S,4294967296,2,3",
        "S,1,2147483648,3", "S,1,2,3*00", "S,1,2,3*", "S,1,2,3*4", "S, 1,2,3", "E,1,2", "E,1,2,256",
        "E,1,2,3,4", "S,1.5,2,3", "s,1,2,3", "H,", "H,{", "H,[1]", "hello", "S,１,2,3",
    ],
)  # fmt: skip
def test_a_line_that_does_not_parse_is_dropped(line: str) -> None:
    found, tally = decode([b"E,1,2,3\n" + line.encode() + b"\nE,1,2,3\n"])
    assert found == [Event(1, 2, 3), Loss(), Event(1, 2, 3)]
    assert tally == Tally(frames=2, bad_frames=1, unchecked_lines=2)


def test_a_hello_that_says_nonsense_leaves_it_unsaid() -> None:
    said = (
        b'{"format":1,"device":7,"counts_per_rev":-1,"adc_bits":"12","adc":[1],"boot":true,'
        b'"marks":"x","more":1}'
    )
    assert decode([wrap(b"H\0" + said)])[0] == [Hello(Board(), 0)]
    assert decode([wrap(b'H\0{"adc_bits":10.0,"boot":0.5}')])[0][0].board.adc_bits == 10


def test_different_boots_stay_different() -> None:
    boots = [b"1", b"2", b"0.25", b"0.75", b"1e300", str(2**70).encode()]
    found = decode([b"".join(wrap(b'H\0{"boot":' + boot + b"}") for boot in boots)])[0]
    assert len({hello.board.boot for hello in found}) == len(boots)


def test_a_hole_forgets_what_was_half_heard() -> None:
    decoder = Decoder()
    decoder.feed(EXAMPLE + EXAMPLE[:9])
    assert decoder.skip() == [Loss()]
    assert decoder.feed(EXAMPLE[9:] + EXAMPLE) == decode([EXAMPLE])[0]
    assert decoder.tally == Tally(frames=2)


def test_garbage_alone_is_counted_too() -> None:
    assert decode([b"\x07\x01\0\x09\x02\0\x03\0"])[1] == Tally(bad_frames=2)


def test_a_binary_frame_needs_a_number() -> None:
    with pytest.raises(ValueError, match="needs a sequence number"):
        encode_frame(Event(1, 2, 3))
