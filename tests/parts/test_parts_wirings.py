"""Every wiring of a part: names, poles, inherited ratings, rejections.

Which junction conducts follows from the drawing of the part (textbook); limits and advice are
common practice, no source.
"""

from collections import Counter

import pytest

from clampwright.errors import InputError
from clampwright.parts.sheet import read_sheet
from clampwright.parts.wirings import stand_off_reason, wiring_named, wirings


def part(kind, leads, junctions, light="opaque plastic"):
    """A sheet from (name, anode, cathode, class, ratings) rows."""
    return read_sheet(
        {
            "id": "part-x",
            "title": "Part",
            "kind": kind,
            "leads": leads,
            "package": {"name": "any", "light": light, "thermal_resistance": "200 K/W"},
            "junctions": [
                {"name": n, "anode": a, "cathode": k, "class": c, **ratings}
                for n, a, k, c, ratings in junctions
            ],
        },
        "part-x.toml",
    )


NPN = part(
    "npn transistor",
    ["E", "B", "C"],
    [
        (
            "collector-base",
            "B",
            "C",
            "npn collector-base",
            {
                "breakdown_minimum": "60 V",
                "capacitance": "4 pF",
                "forward_current_maximum": "100 mA",
            },
        ),
        (
            "emitter-base",
            "B",
            "E",
            "npn emitter-base",
            {
                "breakdown_minimum": "6 V",
                "capacitance": "8 pF",
                "forward_current_maximum": "50 mA",
            },
        ),
    ],
)
HALF = {"share": 0.5, "breakdown_minimum": "40 V", "capacitance": "1.5 pF"}
JFET = part(
    "n-channel jfet",
    ["D", "S", "G"],
    [
        ("gate-drain", "G", "D", "jfet gate small", HALF),
        ("gate-source", "G", "S", "jfet gate small", HALF),
    ],
)
SWITCH = "plastic switching diode"
CELL = {"breakdown_minimum": "75 V", "capacitance": "2 pF"}
SERIES_PAIR = part(
    "dual diode",
    ["K", "M", "A"],
    [("lower", "A", "M", SWITCH, CELL), ("upper", "M", "K", SWITCH, CELL)],
)
COMMON_CATHODE = part(
    "dual diode",
    ["K", "A1", "A2"],
    [("one", "A1", "K", SWITCH, CELL), ("two", "A2", "K", SWITCH, CELL)],
)
SEPARATE_PAIR = part(
    "dual diode",
    ["K1", "A1", "K2", "A2"],
    [("one", "A1", "K1", SWITCH, CELL), ("two", "A2", "K2", SWITCH, CELL)],
)
ARRAY = part(
    "esd array",
    ["IO1", "IO2", "IO3", "IO4", "V-", "V+"],
    [
        row
        for i in "1234"
        for row in (
            (f"lower {i}", "V-", f"IO{i}", "esd array", {"capacitance": "1 pF"}),
            (f"upper {i}", f"IO{i}", "V+", "esd array", {"capacitance": "1 pF"}),
        )
    ],
)


def diode(kind="diode", name="glass switching diode", **ratings):
    return part(kind, ["A", "K"], [("diode", "A", "K", name, ratings)])


def names(sheet, *, rejected=False):
    return {w.name for w in wirings(sheet) if w.rejected == rejected}


def test_transistor_has_six_wirings_and_one_is_rejected():
    assert names(NPN) == {"C/B+E", "C+B/E", "C+E/B", "C/B", "E/B"}
    assert names(NPN, rejected=True) == {"C/E"}


@pytest.mark.parametrize(
    ("name", "first", "anode", "junctions", "breakdown", "capacitance"),
    [
        ("C/B+E", {"C"}, "second", {("collector-base",)}, 60.0, 4e-12),
        ("C+B/E", {"C", "B"}, "first", {("emitter-base",)}, 6.0, 8e-12),
        ("C+E/B", {"C", "E"}, "second", {("collector-base",), ("emitter-base",)}, 6.0, 12e-12),
        ("C/B", {"C"}, "second", {("collector-base",)}, 60.0, 4e-12),
        ("E/B", {"E"}, "second", {("emitter-base",)}, 6.0, 8e-12),
    ],
)
def test_npn_wiring_conducts_and_inherits(name, first, anode, junctions, breakdown, capacitance):
    wiring = wiring_named(NPN, name)
    assert wiring.name == name
    assert set(wiring.first) == first
    assert wiring.anode == anode
    assert set(wiring.paths) == junctions
    assert wiring.breakdown_minimum == breakdown
    assert wiring.capacitance == pytest.approx(capacitance, abs=0, rel=1e-9)
    assert wiring.thermal_resistance == 200.0


def test_pnp_is_the_npn_turned_round():
    pnp = part(
        "pnp transistor",
        ["E", "B", "C"],
        [
            ("collector-base", "C", "B", "pnp collector-base", {}),
            ("emitter-base", "E", "B", "pnp emitter-base", {}),
        ],
    )
    turned = {"first": "second", "second": "first"}
    for wiring in wirings(pnp):
        if not wiring.rejected:
            assert wiring.anode == turned[wiring_named(NPN, wiring.name).anode]


def test_both_junctions_take_the_combined_class_once():
    wiring = wiring_named(NPN, "C+E/B")
    assert (wiring.clamp_class, wiring.scale, wiring.composition) == (
        "npn both junctions",
        1.0,
        "parallel",
    )
    assert wiring.forward_current_maximum == 50e-3  # the lower of the two


@pytest.mark.parametrize(
    "spelling", ["C/B+E", "C/E+B", "B+E/C", "E+B/C", " C / B + E "], ids=lambda s: s.strip()
)
def test_order_of_poles_and_leads_does_not_matter(spelling):
    assert wiring_named(NPN, spelling).name == "C/B+E"


@pytest.mark.parametrize("name", ["C/X", "C", "C/B/E", "", "C+/B", "C/B+E+E+X"])
def test_unknown_wiring_lists_the_names(name):
    with pytest.raises(InputError, match=r"one of .*C/B\+E"):
        wiring_named(NPN, name)


def test_open_base_is_rejected_and_open_emitter_cautioned():
    assert "(β+1)" in wiring_named(NPN, "C/E").reason
    assert any("hum" in caution for caution in wiring_named(NPN, "C/B").cautions)
    assert any("noise source" in caution for caution in wiring_named(NPN, "C+B/E").cautions)
    assert wiring_named(NPN, "C/B+E").words == "collector against base tied to emitter"
    assert wiring_named(NPN, "C+B/E").words == "collector tied to base against emitter"


def test_jfet_gate_wirings_share_the_area():
    assert names(JFET) == {"G/D+S", "G/D", "G/S"}
    assert wiring_named(JFET, "G/D+S").scale == 1.0
    assert wiring_named(JFET, "G/D").scale == 0.5
    assert wiring_named(JFET, "G/D+S").anode == "first"
    for name in ("D/S", "G+D/S", "G+S/D"):
        assert "the channel conducts" in wiring_named(JFET, name).reason


def test_series_pair_alone_in_series_and_antiparallel():
    composition = {w.name: w.composition for w in wirings(SERIES_PAIR) if not w.rejected}
    assert composition["K/A"] == "series"
    assert wiring_named(SERIES_PAIR, "K/A").series == 2
    assert wiring_named(SERIES_PAIR, "K/A").breakdown_minimum == 150.0
    assert wiring_named(SERIES_PAIR, "K/A").capacitance == pytest.approx(1e-12, abs=0, rel=1e-9)
    both = wiring_named(SERIES_PAIR, "K+A/M")
    assert (both.composition, both.anode, both.scale) == ("antiparallel", "both", 1.0)
    assert both.capacitance == pytest.approx(4e-12, abs=0, rel=1e-9)
    assert composition["K/M"] == composition["M/A"] == "single"


def test_common_cathode_pair_alone_and_parallel():
    assert wiring_named(COMMON_CATHODE, "K/A1+A2").composition == "parallel"
    assert wiring_named(COMMON_CATHODE, "K/A1+A2").scale == 2.0
    assert wiring_named(COMMON_CATHODE, "K/A2").composition == "single"
    assert wiring_named(COMMON_CATHODE, "A1/A2").rejected


def test_separate_pair_in_all_four_ways():
    ways = Counter(w.composition for w in wirings(SEPARATE_PAIR) if not w.rejected)
    assert {"single", "parallel", "antiparallel", "series"} <= set(ways)
    assert wiring_named(SEPARATE_PAIR, "K1+K2/A1+A2").composition == "parallel"
    assert wiring_named(SEPARATE_PAIR, "K1+A2/A1+K2").composition == "antiparallel"
    row = wiring_named(SEPARATE_PAIR, "K1/A2 (A1-K2 tied)")
    assert (row.composition, row.series) == ("series", 2)
    assert set(row.tied) == {"A1", "K2"}


def test_split_of_three_leads_is_complete():
    # Each lead goes to pole A, pole B or stays open, both poles used, order of poles ignored:
    # (3³ − 2·2³ + 1)/2 = 6.
    assert len(wirings(NPN)) == 6


def test_array_lines_against_each_rail_and_both():
    assert {"IO1/V-", "IO1/V+", "IO1/V-+V+", "IO4/V-+V+", "IO1+IO2+IO3+IO4/V-"} <= {
        wiring_named(ARRAY, n).name
        for n in ("IO1/V-", "V+/IO1", "IO1/V-+V+", "V++V-/IO4", "V-/IO1+IO2+IO3+IO4")
    }
    assert wiring_named(ARRAY, "IO1/V-").anode == "second"
    assert wiring_named(ARRAY, "IO1/V+").anode == "first"
    assert wiring_named(ARRAY, "IO1/V-+V+").anode == "both"
    assert wiring_named(ARRAY, "IO1+IO2+IO3+IO4/V-").scale == 4.0
    assert wiring_named(ARRAY, "IO1/IO2").rejected
    assert wiring_named(ARRAY, "V-/V+").composition == "series-parallel"


def test_diode_is_cathode_against_anode_whatever_the_sheet_lists_first():
    wiring = wiring_named(diode(), "A/K")
    assert (wiring.name, wiring.anode, wiring.composition) == ("K/A", "second", "single")


def test_series_elements_and_channels_are_no_clamps():
    fuse = part("resettable fuse", ["P1", "P2"], [("body", "P1", "P2", "resettable fuse", {})])
    assert "series element" in wirings(fuse)[0].reason
    mosfet = part(
        "n-channel mosfet", ["G", "D", "S"], [("body", "S", "D", "mosfet body small", {})]
    )
    assert names(mosfet) == {"D/G+S"}
    depletion = part(
        "depletion mosfet", ["G", "D", "S"], [("body", "S", "D", "depletion mosfet off-state", {})]
    )
    assert names(depletion) == set()


def test_two_way_part_conducts_both_ways():
    varistor = part(
        "varistor", ["P1", "P2"], [("disc", "P1", "P2", "varistor disc", {"both_ways": True})]
    )
    (wiring,) = wirings(varistor)
    assert wiring.both_ways
    assert wiring.composition == "single"


@pytest.mark.parametrize(
    ("rating", "reverse", "words"),
    [
        ("6 V", 5.6, "70 % of its minimum breakdown"),  # common practice, no source
        ("5 V", 5.6, "above its minimum breakdown of 5.00"),
        ("60 V", 5.6, None),
        ("8 V", 5.6, None),  # exactly 70 %
        (None, 3.6, "assumed breakdown (no rating) of 5.00"),
        (None, 3.4, None),
    ],
)
def test_stand_off_is_judged_on_the_derated_minimum(rating, reverse, words):
    ratings = {"breakdown_minimum": rating} if rating else {}
    sheet = part(
        "npn transistor",
        ["E", "B", "C"],
        [
            ("collector-base", "B", "C", "npn collector-base", {}),
            ("emitter-base", "B", "E", "npn emitter-base", ratings),
        ],
    )
    reason = stand_off_reason(wiring_named(sheet, "C+B/E"), reverse)
    assert (reason is None) if words is None else (words in str(reason))


def test_stand_off_without_rating_claims_nothing_of_other_junctions():
    assert stand_off_reason(wiring_named(diode(), "K/A"), 500.0) is None


def test_lamp_caution_follows_the_package():
    glass = part(
        "diode", ["K", "A"], [("d", "A", "K", "glass switching diode", {})], light="clear glass"
    )
    assert any("photocurrent" in caution for caution in wirings(glass)[0].cautions)
    assert not any("photocurrent" in c for c in wirings(diode())[0].cautions)
