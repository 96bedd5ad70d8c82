"""What is said of the fitted TDC: what contradicts it, and why it is not believed."""

from __future__ import annotations

from strokewise.gui.sayings.saying import Sayings

WHAT_TO_DO = (
    "look for what else moves the pressure (a charge that burns, a decompressor, a valve held off"
    " its seat, a loose hose), then record again; a piston stop or rocking the crank by hand gives"
    " TDC without it"
)


def _where(apart_deg: float) -> str:
    return "after" if apart_deg > 0 else "before"


def _middle_against(apart_deg: float, allowed_deg: float) -> str:
    return (
        f"the middle of the compressions met from both sides lies {abs(apart_deg):.2f}°"
        f" {_where(apart_deg)} the fitted TDC, and only {allowed_deg:.2f}° would be chance: rock it"
        " again, evenly and right past TDC, and check the clamp for play"
    )


def _shape_against(early_deg: float, apart_deg: float, allowed_deg: float) -> str:
    return (
        f"heat-release shaping, allowed its usual {early_deg:.1f}°, puts TDC {abs(apart_deg):.1f}°"
        f" {_where(apart_deg)} the fit, and only {allowed_deg:.1f}° would be chance: record once"
        " more, check the sensor's response time, and prove TDC by rocking or a stop"
    )


TDC_SAYINGS: Sayings = {
    "every-charge-burns": (
        "every charge seen burns, and burning moves pressure away from where the piston alone puts"
        " it, so TDC is only known roughly: ignition and fuel off, then record again while the"
        " starter turns the engine"
    ),
    "heat-given": (
        "the charge was given heat, as walls of over {wall_c:.0f} °C would give it: most likely it"
        " burns. Ignition and fuel off before anything else, then record again while the starter"
        " turns the engine"
    ),
    "heat-or-slip": (
        "compressions came {by_deg:.1f}° later from one to the next, and higher or leaning later as"
        " well, which no slip alone does: most likely the charge burns. Ignition and fuel off"
        " before anything else; check the clamp, then record again while the starter turns the"
        " engine"
    ),
    "losses-not-fitted": (
        "the method {method} does not fit this engine's losses, and its interval is only the"
        " scatter between passes: TDC can lie some degrees outside; use it to compare"
    ),
    "method-finds-none": (
        "the method {method!r} finds no TDC in these compressions: it is for an engine turned by"
        " its starter, right through TDC, with readings not cut off; use the method 'fit'"
    ),
    "middle-against-fit": _middle_against,
    "no-closed-cylinder": (
        "the pressure is not that of a closed cylinder of air that leaks and loses heat: it stays"
        " {times:.1f} times as far from it as sound engines do; " + WHAT_TO_DO
    ),
    "no-such-engine": (
        "the pressure could only be fitted by an engine that there is not ({parameter} lies"
        " {sigmas:.0f} sigmas from any usual one): check the profile's compression ratio,"
        " sensor.points and response time; else " + WHAT_TO_DO
    ),
    "shape-against-fit": _shape_against,
    "tdc-moved": (
        "the last compression puts TDC {by_deg:+.1f}° from where what came before does: the encoder"
        " may have slipped on the crank, and the interval holds both; see that the clamp is tight"
        " and turn through two more compressions"
    ),
    "tdc-too-rough": (
        "TDC is known no better than ± {half_width_deg:.0f}°: take a sensor of a wider range, turn"
        " through two more compressions without a pause, or find TDC with a piston stop"
    ),
}
