"""Groups of fish: by name, or of one name by height, the lowest first; by hand."""

from types import SimpleNamespace

import numpy as np
from pingwright.measure.groups import groups, of_record


def fish(names, heights, lengths):
    return SimpleNamespace(name=tuple(names), height=np.array(heights), length=np.array(lengths))


def test_fish_of_one_name_are_split_at_half_a_metre_and_two_metres():
    found = groups(fish(["cod"] * 6, [3.0, 0.5, 0.49, 2.0, 1.99, 0.1], [0.6, 0.2, 0.3, 0.4, 0.3, 0.5]))
    assert [group.fish.tolist() for group in found] == [[2, 5], [1, 4], [0, 3]]
    assert [(group.height, group.length) for group in found] == [
        (np.median([0.49, 0.1]), 0.4), (np.median([0.5, 1.99]), 0.25), (2.5, 0.5),
    ]  # fmt: skip
    assert {group.name for group in found} == {"cod"}


def test_fish_of_several_names_are_a_group_each_the_lowest_first():
    found = groups(fish(["pike", "perch", "pike", "bait"], [4.0, 0.3, 6.0, 5.5], [1.0, 0.2, 0.8, 0.1]))
    assert [(group.name, group.fish.tolist(), group.height) for group in found] == [
        ("perch", [1], 0.3), ("pike", [0, 2], 5.0), ("bait", [3], 5.5),
    ]  # fmt: skip
    marks = ("separated", "merged", "not_shown", "separated")
    assert [group.count(marks, "separated") for group in found] == [0, 1, 1]
    assert [group.count(marks, "merged") for group in found] == [1, 0, 0]


def test_no_fish_are_no_group():
    assert groups(fish([], [], [])) == ()


def test_fish_of_two_names_are_two_groups():
    found = groups(fish(["pike", "perch", "pike"], [0.3, 1.0, 0.4], [1.0, 0.2, 0.8]))
    assert [(group.name, group.fish.tolist()) for group in found] == [("pike", [0, 2]), ("perch", [1])]


def test_a_fish_that_was_taken_out_is_counted_with_the_others_at_any_height():
    found = groups(fish(["cod"] * 3, [0.3, 0.4, 3.0], [0.4] * 3), True)
    assert [(group.name, group.fish.tolist(), group.height) for group in found] == [("cod", [0, 1, 2], 0.4)]
    assert groups(fish([], [], []), True) == ()


def test_a_record_says_whether_fish_were_taken_out_of_their_table():
    truth = SimpleNamespace(fish=fish(["cod"] * 2, [0.3, 3.0], [0.4] * 2))
    texts = {
        "[[fish]]\nwithout = [2]\n[[fish]]": 1,
        "[[fish]]\n[[fish]]": 2,
        "[[fish]]": 2,
        "": 2,
        "not = [a text": 2,
        "fish = 3": 2,
        "fish = [3]": 2,
        "a" + ".a" * 300 + "=1": 2,
    }
    for scenario, count in texts.items():
        assert len(of_record(SimpleNamespace(truth=truth, scenario=scenario))) == count
