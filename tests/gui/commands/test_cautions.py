"""Is every danger of a step named where the step is taken?"""

import dataclasses

import pytest

from strokewise.analysis.profile import Profile
from strokewise.gui.pages import cautions

LONGEST_CHARACTERS = 300  # what a person reads while standing


def codes(shown: tuple[cautions.Caution, ...]) -> set[str]:
    return {caution.code for caution in shown}


def test_before_recording_every_danger_of_turning_with_an_open_hole_is_named() -> None:
    assert codes(cautions.before_recording()) == {
        "manual-first",
        "turning-by-hand",
        "valve-contact",
        "starter",
        "ignition-and-fuel",
        "plug-hole-pressure",
    }


def test_before_a_rig_is_tried_nothing_is_cranked_and_the_hose_is_named() -> None:
    shown = codes(cautions.before_rig_check())
    assert shown == codes(cautions.before_recording()) - {"starter"} | {"hose-and-heat"}


def test_two_turns_by_hand_come_before_the_starter() -> None:
    text = cautions.VALVE_CONTACT.text
    steps = ["two full turns by hand", "Stop at any resistance", "Only then use the starter"]
    assert [text.index(step) for step in steps] == sorted(text.index(step) for step in steps)
    order = [caution.code for caution in cautions.before_recording()]
    assert order.index("valve-contact") < order.index("starter")


@pytest.mark.parametrize(
    ("stated", "said"), [(None, "Nobody said"), ("allowed", "come up again"), ("never", "forbids")]
)
def test_turning_back_follows_the_profile(four: Profile, stated: str | None, said: str) -> None:
    profile = dataclasses.replace(four, turning_back=stated)
    assert said in cautions.turning_back(profile).text


def test_a_decided_answer_leads_to_turning_by_hand_an_undecided_one_to_cranking(
    four: Profile,
) -> None:
    after = cautions.after_finding(four, decided=True, method="fit")
    assert {"turning-by-hand", "turning-back", "manual-first"} <= codes(after)
    again = cautions.after_finding(four, decided=False, method="fit")
    assert {"starter", "ignition-and-fuel", "plug-hole-pressure", "manual-first"} <= codes(again)


def test_the_piston_stop_comes_first_where_it_is_used(four: Profile) -> None:
    assert cautions.after_finding(four, decided=True, method="stop")[0].code == "piston-stop"


def test_cautions_are_short_and_defer_to_the_manual() -> None:
    every = [one for one in vars(cautions).values() if isinstance(one, cautions.Caution)]
    assert len(every) >= 9
    assert all(len(caution.text) <= LONGEST_CHARACTERS for caution in every)
    first = cautions.MANUAL_FIRST.text
    assert all(word in first for word in ("manual", "local codes", "licensed practice"))
