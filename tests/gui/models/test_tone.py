import numpy as np
import pytest

from strokewise.gui.models.turn.guide import Guidance
from strokewise.gui.models.turn.tone import FASTEST_S, SILENCE, Tone, ToneStream, tone_for


def test_beeps_come_faster_as_the_target_nears():
    rates = [tone_for(Guidance("turn on", r)).every_s for r in (90, 60, 30, 10, 1)]
    assert rates == sorted(rates, reverse=True)
    assert rates[0] == pytest.approx(1.0)
    assert tone_for(Guidance("slowly", 0.0)).every_s == pytest.approx(FASTEST_S)


def test_steady_on_it_and_low_past_it():
    assert tone_for(Guidance("there", 0.0)).steady
    past = tone_for(Guidance("go back", -4.0))
    assert not past.steady
    assert past.pitch_hz < tone_for(Guidance("turn on", 50.0)).pitch_hz


def test_silent_far_away_and_without_a_target():
    assert tone_for(Guidance("turn on", 300.0)) == SILENCE
    assert tone_for(Guidance("no target")) == SILENCE


def test_the_stream_has_the_pitch_it_was_asked_for():
    stream = ToneStream(22_050)
    stream.tone = Tone(880.0, 1.0, 1.0)
    wave = np.concatenate([stream.samples(n) for n in (1000, 3333, 17_717)]).astype(float)
    spectrum = np.abs(np.fft.rfft(wave * np.hanning(len(wave))))
    assert np.argmax(spectrum) * 22_050 / len(wave) == pytest.approx(880, abs=2)


def test_the_stream_beeps_as_often_as_asked():
    stream = ToneStream(22_050)
    stream.tone = Tone(660.0, 0.25, 0.05)
    wave = np.concatenate([np.zeros(300, np.int16), *(stream.samples(441) for _ in range(99))])
    loud = np.convolve(np.abs(wave) > 500, np.ones(200), "same") > 0
    assert np.count_nonzero(np.diff(loud.astype(int)) == 1) == 8


def test_no_clicks_between_tones():
    stream = ToneStream(22_050)
    stream.tone = Tone(880.0, 1.0, 1.0)
    first = stream.samples(500)
    stream.tone = SILENCE
    wave = np.concatenate([first, stream.samples(500)]).astype(float)
    steepest = 2 * np.pi * 880 / 22_050 * 0.35 * 32767
    assert np.abs(np.diff(wave)).max() < steepest * 1.2
    assert not stream.samples(100).any()


def test_no_samples_asked_for_gives_none():
    assert len(ToneStream().samples(0)) == 0
