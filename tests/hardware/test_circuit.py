"""The circuit: every part, pin and test point is told and drawn; what opens what by itself."""

import itertools
import re
import xml.etree.ElementTree as ElementTree

import pytest

from forebay.docs.schematic import boxing, layout, plumbing, strips
from forebay.docs.sheets import circuits, interlocks, striping, text
from forebay.hardware import cables, tables
from forebay.hardware.netlist import BOX, GROUND, CircuitError, quantity, reached, read_part
from forebay.hardware.readings import MODES
from keeper import channels as ch
from keeper.boards import pins
from tests.hardware.tables import (
    OTHERS,
    PARTS,
    PINS,
    POINTS,
    ROOT,
    build,
    named,
    part,
    sheets_of,
)

NETLIST = build().netlist
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def sheets():
    """The drawings of the demo's circuit by their files' names."""
    return {file: body for file, body in sheets_of("hillside").items()
            if file.startswith("circuit-")}


def test_every_row_that_a_part_names_is_listed():
    names = {row["name"] for row in PARTS["part"]}

    assert {one.row for one in NETLIST if one.row} <= names


def test_every_pin_of_the_board_has_its_own_net_or_is_said_to_be_unused():
    board = NETLIST["A1"]
    wanted = {f"GP{gpio}" for _, gpio, _, _ in pins.PINS}

    assert {pin for pin in board.pins if pin.startswith("GP")} | set(board.open) >= wanted
    assert all(net == pin for pin, net in board.pins.items() if pin in wanted)
    assert wanted - set(board.pins) == {"GP10", "GP28"}  # no servo, no supervised loop


def test_a_part_that_cannot_be_is_told_by_name():
    with pytest.raises(CircuitError, match="part R1 of panel: kind 'shunty' is none of resistor"):
        read_part("R1", {"kind": "shunty"}, "panel")
    with pytest.raises(CircuitError, match="part R1 of panel: volts: no such key"):
        read_part("R1", {"kind": "shunt", "pins": {}, "volts": 3}, "panel")
    with pytest.raises(CircuitError, match="'4k7' is no value with a unit"):
        quantity("4k7")


def test_a_value_is_read_with_its_prefix():
    assert quantity("4.7 kohm") == 4700
    assert quantity("100 nF") == pytest.approx(1e-7)
    assert quantity("16 mohm") == pytest.approx(0.016)
    assert quantity("120 ohm") == 120


def test_the_lead_figures_are_those_of_the_capacitors_that_are_drawn():
    assert NETLIST["C1"].farad == pytest.approx(PARTS["lead"]["panel_F"])
    assert NETLIST["C2"].farad == pytest.approx(PARTS["lead"]["pump_F"])


def opened(*devices):
    """The nets that the panel still feeds when some devices are open."""
    return reached("panel plus, outside", NETLIST.ways(without=frozenset(devices), least_ohm=1.0))


@pytest.mark.parametrize(("device", "row"), [
    ("S1", "panel isolator"), ("B1", "over-full float LSHH-UP"), ("S2", "local stop"),
    ("B2", "thermostat of the motor")])
def test_four_things_open_the_pumps_lead_without_the_board(device, row):
    assert "motor plus" in opened()
    assert "motor plus" not in opened(device)
    assert {one.row for one in NETLIST if one.device == device} == {row}


def test_the_ladder_holds_what_opens_the_pumps_lead_and_nothing_of_the_board():
    chain = {part.device for part in interlocks.pump_chain(NETLIST)}
    drawn = {one.part.id for page in interlocks.drawn(build()) for one in page.symbols}

    assert chain == {"S1", "B1", "S2", "B2"}
    assert {"S1a", "B1a", "S2a", "B2", "M1", "Q1", "D5", "F1", "BT1", "K1a", "E1"} <= drawn
    for device in chain:
        assert f"| {device} | " in interlocks.page(build())


@pytest.mark.parametrize(("name", "has"), [("hillside", True), ("orchard", False)])
def test_the_ladder_speaks_of_the_generators_shunt_where_there_is_one(name, has):
    headings = " ".join(interlocks.rungs(named(name).netlist))

    assert ("shunt" in headings) is has
    assert "clamp holds the generator" in headings


def test_the_stop_acts_on_pump_and_valve_without_the_board():
    poles = {one.circuit for one in NETLIST if one.row == "local stop"}

    assert poles == {"pump", "valve with a lead for each direction", "stop, read back"}
    assert "poles" in part("local stop")["must"]
    # With its feed on the motor's 'close', by a diode, and no driver between.
    assert "valve close" in reached(NETLIST["S2b"].pins["no"], NETLIST.ways())
    assert "supply node" == NETLIST["S2b"].pins["c"]


def test_the_float_that_breaks_the_pumps_lead_has_another_contact_for_the_board():
    power, board = NETLIST["B1a"], NETLIST["B1c"]

    assert set(power.pins.values()) & set(board.pins.values()) == set()
    assert "GP9" in reached(board.pins["1"], NETLIST.ways())


def test_only_the_battery_has_a_fuse_and_it_is_next_to_it():
    assert [one.id for one in NETLIST.of_kind("fuse")] == ["F1"]
    assert {one.id for one, _ in NETLIST.on(NETLIST["BT1"].pins["plus"])} == {"F1", "BT1"}
    assert NETLIST["F1"].at == NETLIST["BT1"].at == "battery"


def test_every_test_point_lies_on_a_net_of_some_circuit():
    nets = {net for table in tables.sheets().values() for block in table["circuit"]
            for one in block["part"].values() for net in one["pins"].values()}

    assert {row["net"] for row in POINTS["test_point"]} <= nets
    assert [row["id"] for row in POINTS["test_point"]] == [
        f"TP{n}" for n in range(1, len(POINTS["test_point"]) + 1)]


@pytest.mark.parametrize("point", build().points, ids=lambda point: point.id)
def test_a_test_point_has_a_window_in_each_mode_and_says_what_is_wrong(point):
    for mode in MODES:
        low, high = point.windows[mode]
        assert low < high
    assert len(point.otherwise) > 20
    assert len(point.at) <= 37
    assert point.channel in {"", *(row[0] for row in ch.CHANNELS)}


def test_the_loops_window_is_the_test_points_window():
    hanging = next(row for row in PARTS["loop"]["window"] if row["name"] == "hanging")
    row = next(row for row in POINTS["test_point"] if row["net"] == "LSHH-UP, loop")

    for mode in MODES:
        assert row[mode] == [hanging["low_V"], hanging["high_V"]]


def test_the_drawings_have_every_part_and_test_point(sheets):
    words = " ".join(" ".join(element.itertext())
                     for body in sheets.values()
                     for element in ElementTree.fromstring(body).iter(f"{SVG}text")).split()

    assert {one.id for one in NETLIST} <= set(words)
    # A rail's test point stands beside its name, any other in a circle.
    missing = {point.id for point in build().points} - set(words)
    assert {name.removeprefix("TP") for name in missing} <= set(words)


def test_a_drawing_needs_nothing_from_elsewhere(sheets):
    assert sheets
    for name, body in sheets.items():
        found = re.findall(r"(?<!xlink)href|url\(|@import|<script|<image|font-face", body)
        assert found == [], name
        assert set(re.findall(r"https?://\S+?(?=\")", body)) <= {
            "http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}, name


def test_nothing_of_a_drawing_lies_over_another():
    drawn = circuits.drawings(build())
    assert drawn
    for file, drawing in drawn.items():
        sheet = drawing.layout
        boxes = [(one.words[0], one.box) for one in sheet.texts]
        boxes += [(one.part.id, one.box) for one in sheet.symbols]
        boxes += [(one.part.id, one.box) for one in sheet.frames]
        over = [(name, other) for place, (name, box) in enumerate(boxes)
                for other, its in boxes[place + 1:] if box.overlaps(its)]

        assert over == [], file


@pytest.mark.parametrize("demo", ["hillside", "orchard"])
def test_no_text_of_the_plumbing_lies_over_another_and_only_fitted_instruments_are_on_it(demo):
    picture = plumbing.drawn(build(demo))
    words = [words for words, _ in picture.boxes]

    assert boxing.overlaps(picture.boxes) == []
    assert [words for words, box in picture.boxes
            if box.left < 0 or box.right > plumbing.WIDTH] == []
    assert all(box.right <= plumbing.WIDTH and box.top <= plumbing.HEIGHT
               for _, box in picture.boxes)
    assert ("FI" in words) == (demo == "hillside")
    assert {"LSHH", "LSH", "TSH"} <= set(words)  # in hardware: every rig has them
    legend = " ".join(words)
    assert all(f"{tag} is {plumbing.part_of(tag, build(demo))}" in legend for tag in picture.tags)
    assert len(picture.tags) == len(set(picture.tags)) > 4
    ElementTree.fromstring(plumbing.svg(build(demo)))


@pytest.mark.parametrize("demo", ["hillside", "orchard"])
def test_the_box_holds_each_of_its_parts_and_terminals_once_and_nothing_lies_over_another(demo):
    picture, width, height = boxing.drawn(build(demo))
    words = " ".join(words for words, _ in picture.boxes).split()
    inside = [one.id for one in build(demo).netlist if one.at == "box"]
    terminals = [core.terminal for cable in build(demo).cables for core in cable.cores
                 if core.terminal]

    assert boxing.overlaps(picture.boxes) == []
    assert all(words.count(name) == 1 for name in (*inside, *terminals))
    assert all(box.right <= width and box.top <= height for _, box in picture.boxes)


@pytest.mark.parametrize("demo", ["hillside", "orchard"])
def test_on_the_strip_board_no_two_nets_share_a_hole_and_each_part_reaches_its_own(demo):
    parts = strips.soldered(build(demo).netlist)
    found = strips.pieces(parts)
    by_net = {piece.net: piece for piece in found}
    holes = [(piece.row, column) for piece in found
             for column in range(piece.first, piece.last + 2)]  # with the hole of the cut

    assert len(holes) == len(set(holes))
    for column, one in enumerate(parts):
        for net in one.pins.values():
            assert by_net[net].first <= column <= by_net[net].last
    # A weekend's soldering: what fits on the boards that are sold, 100 by 160 mm and twice that.
    assert max(piece.row for piece in found) < 39
    for place in range(strips.pages(parts)):
        ElementTree.fromstring(strips.svg(build(demo), place))


@pytest.mark.parametrize("name", ["hillside", "orchard", *OTHERS])
def test_the_strip_boards_page_has_every_pin_in_the_box_and_every_terminal(name):
    one = named(name)
    pieces = striping.page(one).split("## Parts, column")[0]
    said = {end.strip() for line in pieces.splitlines() if line.startswith("| ")
            for cell in line.split(" | ")[3:5] for end in cell.strip(" |").split(", ")}
    pins = {f"{part.id} {pin}" for part in one.netlist if part.at == BOX for pin in part.pins}
    # Every 0 V of a part on the board is a joint of one of its two pieces.
    terminals = {core.terminal for cable in one.cables for core in cable.cores if core.terminal}

    assert pins | terminals <= said
    assert len(pins) > 50


@pytest.mark.parametrize("name", ["hillside", "orchard", *OTHERS])
def test_on_the_strip_board_no_body_touches_the_next(name):
    parts = strips.soldered(named(name).netlist)
    columns = strips.holes(parts)
    edges = [(column * 2.54 - strips.body(part)["wide_mm"] / 2,
              column * 2.54 + strips.body(part)["wide_mm"] / 2)
             for part, column in zip(parts, columns, strict=True)]

    assert all(left[1] <= right[0] + 1e-9 for left, right in itertools.pairwise(edges))


def test_what_is_hot_thick_or_of_eight_legs_stands_beside_the_strip_board():
    on_it = {one.id for one in strips.soldered(NETLIST)}

    # A diode of 8 A, a switch of 20 A, a relay: leads thicker than a hole of 1 mm.
    assert not on_it & {"Q1", "Q2", "D1", "D7", "K1", "K1a", "U4", "U7", "U8"}
    assert {"Q4", "D6", "C1"} <= on_it
    # A can of 470 uF and 63 V is some 18 mm wide: nothing for three holes at its left and right.
    columns = dict(zip([one.id for one in strips.soldered(NETLIST)],
                       strips.holes(strips.soldered(NETLIST)), strict=True))
    assert not [name for name, column in columns.items()
                if name != "C1" and abs(column - columns["C1"]) <= 3]


def test_no_wire_is_asked_for_along_a_strip_that_carries_no_current():
    rows = [line for line in striping.page(build()).splitlines() if "bare wire along it" in line]

    assert rows
    assert not [line for line in rows if " sense " in line or " gate " in line]


def test_every_column_of_the_strip_board_is_drawn_once_with_the_names_of_its_legs():
    parts = strips.soldered(NETLIST)
    drawn = [ElementTree.fromstring(strips.svg(build(), place))
             for place in range(strips.pages(parts))]
    words = [one.text for page in drawn for one in page.iter(f"{SVG}text")]

    assert [words.count(one.id) for one in parts] == [1] * len(parts)
    assert words.count("g") == len([one for one in parts if one.kind == "n-mosfet"]) > 0
    assert words.count("k") == len([one for one in parts if one.kind in ("diode", "tvs")])


A4_mm = (277.0, 190.0)  # ISO 216, less a centimetre of edge on each side
LEAST_PRINT_mm = 2.0


@pytest.mark.parametrize("rig", ["hillside", "orchard", "reversed", "spring", "servo"])
def test_printed_on_a4_no_text_of_any_drawing_is_smaller_than_two_millimetres(rig):
    drawings = {name: body for name, body in sheets_of(rig).items() if name.endswith(".svg")}

    for name, body in drawings.items():
        _, _, wide, high = map(float, ElementTree.fromstring(body).attrib["viewBox"].split())
        scale = max(min(A4_mm[0] / wide, A4_mm[1] / high), min(A4_mm[1] / wide, A4_mm[0] / high))
        sizes = [float(size) for size in re.findall(r"font-size[:=]\"? ?([\d.]+)", body)]

        assert min(sizes) * scale >= LEAST_PRINT_mm, name
    assert len(drawings) > 10


def test_what_leaves_a_piece_of_strip_is_a_terminal_or_a_modules_pin():
    parts = strips.soldered(NETLIST)

    assert strips.leads(build(), "LSH-UP", parts) == ["X6"]
    assert strips.leads(build(), "GP8", parts) == ["A1 GP8"]


@pytest.mark.parametrize("demo", ["hillside", "orchard"])
def test_the_pumps_current_and_the_sensors_0_V_meet_at_the_star_point_alone(demo):
    one = build(demo)
    parts = strips.soldered(one.netlist)
    pins = {part.id: set(part.pins.values()) for part in parts}
    power, signals = strips.GROUNDS["power"], strips.GROUNDS["signal"]
    led = strips.star(one) + strips.leads(one, power, parts) + strips.leads(one, signals, parts)

    assert power in pins["C1"] & pins["V1"]
    assert "Q1 s" in strips.star(one)
    assert signals in pins["R36"] | pins["C26"]  # the button's filter
    assert not any({power, signals} <= nets for nets in pins.values())
    assert led.count(strips.STAR) == 2
    # Each terminal and each module's pin of 0 V once, and A1 among the signals.
    assert len(led) == len(set(led)) + 1
    assert {core.terminal for cable in one.cables for core in cable.cores
            if core.net == GROUND and core.terminal} <= set(led)
    assert "A1 AGND" in strips.leads(one, signals, parts)


@pytest.mark.parametrize("name", ["hillside", "orchard", *OTHERS])
def test_the_cores_of_0_V_of_power_and_of_signals_end_at_different_pins(name):
    one = named(name)
    ends = {}
    for cable in one.cables:
        for place, core in enumerate(cable.cores, start=1):
            if core.net == GROUND:
                for end in cables.far_ends(cable, place, one.netlist, one.cables):
                    ends.setdefault(end, []).append(cable.group)

    assert [end for end, groups in ends.items() if len(groups) > 1] == []
    # What a valve's motor draws must not lift a meter's or a potentiometer's 0 V.
    for end, group in (("Y1 common", "power"), ("FT2 minus", "signal"), ("ZT1 2", "signal")):
        if end in ends:
            assert ends[end] == [group]


# What each draws: common practice, no source; the potentiometer's by Ohm: 3.3 V on 1 kohm.
DRAWS_A = {"flow meter": 0.02, "level sensor": 0.01, "thermometer": 0.0015,
           "potentiometer": 0.0033}


@pytest.mark.parametrize("name", ["hillside", "orchard", *OTHERS])
def test_a_cable_of_sensors_is_reckoned_with_what_they_draw(name):
    one = named(name)
    for cable in one.cables:
        feeds = sum(DRAWS_A.get(part.kind, 0.0) for part in one.netlist if part.at == cable.place)
        if cable.group == "signal" and feeds:
            contacts = sum(core.net.startswith(("LS", "1-Wire", "flow")) for core in cable.cores)
            # All of it comes back by one core, with 0.7 mA of each contact at most.
            assert feeds <= cable.carries_A <= feeds + 0.0011 * contacts + 1e-9, cable.id
        assert cable.holds


def test_what_the_sensors_draw_adds_up_to_what_their_rails_are_made_for():
    assumed = PARTS["assumed"]

    assert 2 * DRAWS_A["flow meter"] + DRAWS_A["level sensor"] == assumed["sensors_A"]
    assert (2 * DRAWS_A["thermometer"] + DRAWS_A["potentiometer"]
            <= assumed["rail_sensors_A"] < 0.0075)


def test_each_core_says_both_of_its_ends_and_the_parts_are_on_its_net():
    one = build()
    for cable in one.cables:
        for place, core in enumerate(cable.cores, start=1):
            far = cables.far_ends(cable, place, one.netlist, one.cables)
            near = cables.near_ends(cable, place, one.netlist, one.cables)

            assert far, (cable.id, place)
            assert near, (cable.id, place)
            for end in (*far, *near):
                name, _, pin = end.partition(" ")
                if name in one.netlist.parts:
                    assert one.netlist[name].pins[pin] == core.net


def test_a_cable_that_a_fault_without_a_fuse_feeds_carries_the_panels_short_circuit():
    fed = {cable.id: cable for cable in build().cables if cable.place in ("panel", "battery")}

    assert len(fed) == 2
    for cable in fed.values():
        assert cable.most_A == build().figures["panel_short_A"]
        assert cables.SECTIONS_mm2[cable.section_mm2] >= cable.most_A
    assert NETLIST["D7"].rated["A"] >= build().figures["panel_short_A"]


def test_an_overlap_is_seen():
    one = layout.Box(0.0, 0.0, 2.0, 1.0)

    assert one.overlaps(layout.Box(1.0, 0.5, 3.0, 2.0))
    assert not one.overlaps(layout.Box(2.0, 0.0, 3.0, 1.0))


def test_the_pages_read_on_a_terminal_of_eighty_columns():
    body = circuits.page(build())
    wide = [line for line in body.splitlines() if len(line) > text.WIDTH + 1]

    assert [line for line in wide if not line.startswith(("|", "Drawn from"))] == []


def test_every_gpio_that_is_drawn_is_the_firmwares():
    drawn = {net for net in NETLIST.nets if re.fullmatch(r"GP\d+", net)}

    assert drawn <= {f"GP{row['gpio']}" for row in PINS["pin"]}
    assert GROUND in NETLIST.nets
    assert (ROOT / "hardware" / "circuits").is_dir()
