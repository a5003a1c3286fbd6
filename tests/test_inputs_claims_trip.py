"""Claims and trip files."""

from pathlib import Path

import pytest
from pingwright.errors import ScenarioError
from pingwright.inputs import catalogue, claims, trip

WRECK = (Path(__file__).parent.parent / "scenarios" / "01_wreck_on_gravel.toml").read_bytes()
CLAIMS = """title = "t"
scenario = "wreck.toml"
runs = 400
confidence = 0.9
seed = 5
[[claim]]
says = "parts a fish a foot off the bottom"
element = "narrow high"
measure = "separated"
fish = { swimbladder = "closed", length = "40 cm", above_bottom = "0.3 m" }
place = "anywhere"
change = { "seabed.depth" = "70 m", "seabed.layer.1.sediment" = "mud", "element.narrow high.power" = "600 W" }
holds_if = { at_least = 0.9 }
[[claim]]
says = "reaches further"
element = ["narrow high", "low-pencil"]
measure = "reach"
fish = { swimbladder = "closed", length = "40 cm" }
place = { along = "0 m", across = "2 m" }
holds_if = { at_most = "-30 ft" }
"""
TRIP = """title = "Two lines over the ridge"
seed = 5
[day]
depth = ["40 m", "60 m"]
sediment = "gravel"
slope = "3 deg"
wind = "8 kn"
speed = "3 kn"
temperature = "11 degC"
salinity = 34.5
[[species]]
name = "bottom fish"
swimbladder = "closed"
length = "45 cm"
where = { above_bottom = ["0.3 m", "1.5 m"] }
share = 1.0
[weights]
separated = 3
small_fish = 0
reach = 0
[candidates]
elements = ["high-pencil", "low-pencil"]
pairs = true
[[element]]
name = "own"
use = "high-cone"
power = "300 W"
"""


def asked(text: str = CLAIMS) -> claims.ClaimsFile:
    return claims.parse(text, "claims.toml", {"wreck.toml": WRECK})


def refused(text: str) -> str:
    with pytest.raises(ScenarioError) as caught:
        asked(text)
    return str(caught.value)


def test_claims_are_read() -> None:
    file = asked()
    assert (file.runs, file.confidence, file.seed, file.keep) == (400, 0.9, 5, ())
    first, second = file.claim
    assert first.element == ("narrow high",)
    assert first.place is None
    assert first.fish is not None
    assert first.fish.above_bottom == 0.3
    assert first.holds_if is not None
    assert first.holds_if.at_least == 0.9
    assert second.element == ("narrow high", "low-pencil")
    assert second.place is not None
    assert second.place.across == 2.0
    assert second.holds_if is not None
    assert second.holds_if.at_most == pytest.approx(-9.144)


def test_scenario_of_a_claim_holds_its_elements_and_changes_only() -> None:
    file = asked()
    first = claims.scenario_of(file, file.claim[0])
    assert first.seabed.depth == 70.0
    assert first.seabed.layer[0].sediment == "mud"
    assert [(e.name, e.power) for e in first.element] == [("narrow high", 600.0)]
    assert (first.fish, first.structure, first.school, first.target) == ((), (), (), ())
    second = claims.scenario_of(file, file.claim[1])
    assert [e.name for e in second.element] == ["narrow high", "low-pencil"]
    assert second.seabed.depth == 58.0


def test_structures_stay_when_kept() -> None:
    file = asked(CLAIMS.replace("seed = 5", 'seed = 5\nkeep = ["structure"]'))
    kept = claims.scenario_of(file, file.claim[1])
    assert kept.structure[0].name == "ore barge"
    assert kept.fish == ()


def test_claims_are_loaded_with_the_scenario_beside_them(tmp_path: Path) -> None:
    (tmp_path / "wreck.toml").write_bytes(WRECK)
    path = tmp_path / "claims.toml"
    path.write_text(CLAIMS, encoding="utf-8")
    assert claims.load(path).base.title == "Ore barge on a gravel plain"
    path.write_text(CLAIMS.replace("wreck.toml", "../wreck.toml"), encoding="utf-8")
    with pytest.raises(ScenarioError, match="must be inside the folder"):
        claims.load(path)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('"separated"', '"partet"', 'claims.toml:9: claim[1].measure: found "partet"'),
        ('"narrow high"\nm', '"narow high"\nm', 'did you mean "narrow high"'),
        ('"mud"', '"mut"', "claim[1].change.seabed.layer.1.sediment"),
        ("seabed.depth", "seabed.depht", 'did you mean "depth"'),
        ("600 W", "600 kg", 'the unit "kg" in a power'),
        ("element.narrow high.power", "element.narrow high.name", "a name cannot be changed"),
        ("at_least = 0.9", "at_least = 9", "allowed: 0 to 1"),
        ("at_least = 0.9", "at_least = 0.9, at_most = 1", "one of them"),
        ('at_most = "-30 ft"', 'at_most = "3 deg"', 'the unit "deg" in a length'),
        (', above_bottom = "0.3 m"', "", "needs the fish's above_bottom or depth"),
        ('"separated"', '"separated_pair"', "spacing is only for"),
        ('"separated"', '"m_of_n"', "pings is only for the measure m_of_n, which needs it"),
        ('"separated"', '"separated"\npings = [3, 8]', "pings is only for the measure m_of_n"),
        ('"separated"', '"swath"\nover = "ping"', 'found over = "ping"; allowed with the measure swath: pass'),
        ('"separated"', '"m_of_n"\npings = [9, 8]', "allowed: two whole numbers m and n, such as [3, 8]"),
        ('"separated"', '"m_of_n"\npings = [true, 8]', "allowed: two whole numbers m and n"),
        ('"separated"', '"m_of_n"\npings = [2, 13]', "n from 2 to 12"),
        ('["narrow high", "low-pencil"]', '["narrow high", "narrow high"]', "two different ones"),
        ('"anywhere"', '"nowhere"', 'allowed: "anywhere"'),
        ("wreck.toml", "other.toml", "there is no such file"),
        ("runs = 400", "runs = 0", "a whole number from 1 to 1000000"),
        ("confidence = 0.9", "confidence = 95", 'did you mean "95 %"'),
        ("[[claim]]", "[[clam]]", 'did you mean "claim"'),
        (
            'fish = { swimbladder = "closed", length = "40 cm", above_bottom = "0.3 m" }\n',
            "",
            "the measure separated needs a fish",
        ),
        ('length = "40 cm", above_bottom', "above_bottom", "the measure separated needs the fish's length"),
    ],
)
def test_faults_of_claims(old: str, new: str, words: str) -> None:
    assert old in CLAIMS
    assert words in refused(CLAIMS.replace(old, new))


def test_faults_of_claims_are_told_all_at_once() -> None:
    """Misspelt elements and measure, a wrong number, an incomplete fish, a wrong change, a fault of the base."""
    text = CLAIMS.replace("runs = 400", "runs = 0").replace('"reach"', '"reech"').replace("low-pencil", "low-pensil")
    text = text.replace("seabed.depth", "seabed.depht") + (
        '[[claim]]\nsays = "s"\nelement = "narow high"\nmeasure = "separated_pair"\nfish = { swimbladder = "closed" }\n'
    )
    said = refused(text)
    for words in (
        "claims.toml:3: runs", 'claim[1].change.seabed.depht: found', 'claim[2].measure: found "reech"',
        'claim[2].element: found "low-pensil"', 'claim[3].element: found "narow high"', 'did you mean "narrow high"',
        "needs the fish's length; the measure separated_pair needs the fish's above_bottom or depth, one of them; "
        "spacing",
    ):  # fmt: skip
        assert words in said
    assert len(said.splitlines()) == 6
    bad = WRECK.replace(b'depth = "58 m"', b'depth = "58 mm"')
    with pytest.raises(ScenarioError) as caught:
        claims.parse(CLAIMS.replace('"low-pencil"', '"low-pensil"'), "claims.toml", {"wreck.toml": bad})
    assert [fault.file for fault in caught.value.faults] == ["claims.toml", "wreck.toml"]


def test_faults_of_trips_are_told_all_at_once() -> None:
    text = TRIP.replace("gravel", "gravle").replace("low-pencil", "low-pensil").replace("share = 1.0", "share = 0")
    text += '[[element]]\nname = "own"\nuse = "high-cone"\n'
    with pytest.raises(ScenarioError) as caught:
        trip.parse(text)
    assert [fault.path for fault in caught.value.faults] == [
        "day.sediment", "species", "candidates.elements[2]", "element[2].name",
    ]  # fmt: skip
    text = TRIP.replace("pairs = true", "pairs = 3").replace('["0.3 m", "1.5 m"]', '["90 m", "95 m"]')
    text = text.replace("salinity = 34.5", "salinity = 34\nwreck = { length = 9, width = 9, height = 30 }")
    with pytest.raises(ScenarioError) as caught:
        trip.parse(text)
    assert [fault.path for fault in caught.value.faults] == [
        "day.wreck.height", "species[1].where.above_bottom", "candidates.pairs",
    ]  # fmt: skip


def test_faults_of_the_base_name_the_base() -> None:
    with pytest.raises(ScenarioError, match=r"wreck\.toml:\d+: seabed\.depth"):
        claims.parse(CLAIMS, "claims.toml", {"wreck.toml": WRECK.replace(b'depth = "58 m"', b'depth = "58 mm"')})


def test_trip_is_read_with_every_candidate() -> None:
    t = trip.parse(TRIP)
    assert [e.name for e in t.element] == ["high-pencil", "low-pencil", "own"]
    assert t.element[2].power == 300.0
    assert (t.weights.separated, t.weights.detected, t.weights.small_fish) == (3.0, 1.0, 0.0)
    assert t.day.depth == (40.0, 60.0)
    assert t.species[0].where.above_bottom == (0.3, 1.5)
    assert t.candidates.pairs is True


def test_all_is_the_whole_catalogue_and_the_default() -> None:
    every = list(catalogue.element_names())
    assert [e.name for e in trip.parse(TRIP.replace('["high-pencil", "low-pencil"]', '"all"')).element] == [
        *every,
        "own",
    ]
    bare = TRIP.split("[candidates]", maxsplit=1)[0]
    assert [e.name for e in trip.parse(bare).element] == every


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("gravel", "gravle", 'did you mean "gravel"'),
        ("low-pencil", "low-pensil", 'did you mean "low-pencil"'),
        ('where = { above_bottom = ["0.3 m", "1.5 m"] }', "where = {}", "found none of above_bottom, above, depth"),
        ('above_bottom = ["0.3 m", "1.5 m"]', 'depth = ["90 m", "95 m"]', "less than the deepest bottom"),
        ("share = 1.0", "share = 0", "shares that are all 0"),
        ('name = "own"', 'name = "high-pencil"', "again"),
        ("separated = 3", "separated = 0\ndetected = 0\nswath = 0\ndetail = 0", "weights that are all 0"),
        ("salinity = 34.5", "", "day.salinity: is missing"),
        ("salinity = 34.5", 'salinity = 34\nvessel = "35 dB"', 'it is now "own", another quantity'),
        ("salinity = 34.5", 'salinity = 34\nground = "wrek"', "day.ground"),
        ("salinity = 34.5", 'salinity = 34\nground = "bare"\nweed = {}', 'ground = "bare" with the table weed'),
        ("salinity = 34.5", "salinity = 34\nreef = {}\nledge = {}", "allowed: one of wreck, reef and ledge"),
        ("share = 1.0", "density = 3", "only for a school"),
        (
            "salinity = 34.5",
            "salinity = 34\nwreck = { length = 9, width = 9, height = 30 }",
            "day.wreck.height: found 30 m; allowed: at most half the least depth",
        ),
        ('elements = ["high-pencil", "low-pencil"]', 'elements = "both"', 'allowed: "all" or a list'),
    ],
)
def test_faults_of_trips(old: str, new: str, words: str) -> None:
    assert old in TRIP
    with pytest.raises(ScenarioError) as caught:
        trip.parse(TRIP.replace(old, new))
    assert words in str(caught.value)
    assert "trip.toml:" in str(caught.value)


def test_a_day_may_have_a_wreck_and_a_boat_of_its_own_noise() -> None:
    assert trip.parse(TRIP).day.wreck is None
    assert trip.parse(TRIP).day.own == "by speed"
    more = 'salinity = 34.5\nown = "20 dB"\nwreck = { length = "90 ft", width = "8 m", height = "4 m" }'
    day = trip.parse(TRIP.replace("salinity = 34.5", more)).day
    assert day.own == 20.0
    assert day.wreck is not None
    assert day.wreck.length == pytest.approx(90 * 0.3048)
    assert day.wreck.beside == (0.5, 5.0)


def test_claims_without_a_claim_and_trips_without_a_species_are_refused() -> None:
    head = CLAIMS.split("[[claim]]", maxsplit=1)[0]
    assert "found no claim; allowed: at least one [[claim]]" in refused(f"{head}claim = []\n")
    begin, end = TRIP.index("[[species]]"), TRIP.index("[weights]")
    with pytest.raises(ScenarioError, match=r"found no species; allowed: at least one \[\[species\]\]"):
        trip.parse(TRIP[:begin].replace("seed = 5", "seed = 5\nspecies = []") + TRIP[end:])


def test_trip_without_candidates_is_refused() -> None:
    text = TRIP.split("[candidates]", maxsplit=1)[0] + "[candidates]\nelements = []\n"
    with pytest.raises(ScenarioError, match="found no candidate"):
        trip.parse(text)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (
            'above_bottom = "0.3 m"',
            'depth = "0 m"',
            "found a fish at 0 m; allowed: at least 0.2 m below the transducer",
        ),
        ('above_bottom = "0.3 m"', 'above_bottom = "200 m"', "below the transducer"),
        ('above_bottom = "0.3 m"', 'depth = "2500 m"', "above the seabed at"),
    ],
)
def test_a_claim_s_fish_is_in_the_water(old: str, new: str, words: str) -> None:
    """At the face a fish has no aspect, and the program once ended with an internal error."""
    assert old in CLAIMS
    told = refused(CLAIMS.replace(old, new, 1))
    assert words in told
    assert "claims.toml:" in told


def test_a_reach_of_nothing_is_no_bound() -> None:
    text = (
        CLAIMS.split("[[claim]]", maxsplit=1)[0]
        + """[[claim]]
says = "it reaches"
element = "narrow high"
measure = "reach"
fish = { swimbladder = "closed", length = "40 cm" }
holds_if = { at_least = "0 m" }
"""
    )
    assert "found 0 m; allowed: 50 cm to 10000 m" in refused(text)
