"""The order of work is common practice, no single source: facts on phantom (usual order) and on what a
session's assistant does before, during and after."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from tasks.checklists import cautions
from tasks.checklists.rules import checklist
from tasks.checklists.sheet import Line, Sheet, SheetInput, SheetInsert, SheetMains, Stage, numbers_in_words

VOICE = SheetInput(
    number=1,
    label="Lead vocal",
    pickup="mic",
    unit="C-01",
    unit_kind="large condenser",
    fetch="store, shelf 1",
    stand="tall boom",
    line=1,
    preamp="Oak",
    channel=5,
    recorder_input=1,
    phantom=True,
    never_phantom=False,
    own_supply=False,
    pad=False,
    reach="channels 5–8 on one switch",
    drain_seconds=90,
    position="in front of the mouth, screen half way",
    distance_cm=(15, 25),
    high_pass_hz=80,
)
RIBBON = replace(
    VOICE,
    number=2,
    label="Trumpet",
    unit="R-02",
    unit_kind="ribbon",
    fetch="cupboard 3",
    line=2,
    channel=1,
    recorder_input=2,
    phantom=False,
    never_phantom=True,
    reach="channels 1–4 on one switch",
    pad=True,
)
KEYS = replace(
    VOICE,
    number=3,
    label="Laptop left",
    pickup="line",
    unit="",
    unit_kind="",
    fetch="",
    stand="",
    line=3,
    preamp="",
    channel=0,
    recorder_input=3,
    phantom=False,
    reach="",
)
SHEET = Sheet("Weaving Hall", (VOICE, RIBBON, KEYS))


def index(lines: tuple[Line, ...], word: str) -> int:
    found = [n for n, line in enumerate(lines) if word.lower() in line.title.lower()]
    assert found, f"no line says {word!r}"
    return found[0]


def words(lines: tuple[Line, ...]) -> str:
    return " ".join(f"{line.title} {line.details} {line.caution}" for line in lines)


def test_inserts_are_warmed_fetched_patched_set_and_put_back() -> None:
    scale = SheetInsert("Scale", 2, settings=(("Ratio", "4 to 1"),), says="By ear.")
    lamp = SheetInsert("Lamp", 1, fetch="Store, trolley", valves=True)
    each = replace(VOICE, label="Voice", inserts=(scale, lamp))
    lines = {line.title: line for line in checklist(Sheet("Hall", (each,)))}
    assert cautions.VALVE in lines["Switch on and warm up Lamp"].caution
    assert cautions.MAINS in lines["Switch on and warm up Lamp"].caution
    assert cautions.VALVE in lines["Fetch Lamp from Store, trolley"].caution
    patch = lines["Voice: patch Scale channel 2, Lamp channel 1"]
    assert [other for _, other in patch.details][:2] == ["to Scale channel 2", "to Lamp channel 1"]
    assert patch.details[-1][1] == f"to recorder input {each.recorder_input}"
    done = lines["Voice: set Scale channel 2, Lamp channel 1, then by ear"]
    assert done.details[0] == ("Scale channel 2", "ratio 4 to 1; By ear.")
    assert lines["Bring Lamp back to Store, trolley"].stage is Stage.BREAKDOWN
    order = list(lines)
    assert order.index("Switch on and warm up Lamp") < order.index(patch.title) < order.index(done.title)


def test_phantom_is_off_and_drained_before_any_line_is_patched() -> None:
    lines = checklist(SHEET)
    assert index(lines, "all phantom off, wait 90") < index(lines, "Patch line")


def test_microphones_are_placed_before_phantom_goes_on_and_lines_are_checked_after() -> None:
    lines = checklist(SHEET)
    placed = max(n for n, line in enumerate(lines) if line.stage is Stage.SETUP and line.input_number)
    on = index(lines, "Oak: phantom on, channels 5–8 on one switch")
    checked = index(lines, "Lead vocal: signal on recorder input 1")
    assert placed < on < checked


def test_monitors_are_shut_before_phantom_is_switched() -> None:
    lines = checklist(SHEET)
    assert index(lines, "Shut every monitor") < index(lines, "phantom on")


def test_at_the_end_phantom_drains_before_anything_is_unplugged_or_brought_back() -> None:
    lines = checklist(SHEET)
    assert index(lines, "phantom off, wait 90") < index(lines, "to neutral") < index(lines, "Bring 1 back")


def test_a_ribbon_is_never_on_a_switch_that_goes_on_and_its_task_says_why() -> None:
    lines = checklist(SHEET)
    place = next(line for line in lines if line.input_number == 2 and line.stage is Stage.SETUP)
    assert "Never phantom: channels 1–4 on one switch stays off." in place.caution
    assert ("Switches", "pad in, high-pass 80 Hz") in place.details
    switched_on = [line for line in lines if "phantom on" in line.title]
    assert all("R-02" not in str(line.details) for line in switched_on)


def test_cautions_read_as_sentences_wherever_they_come_from() -> None:
    each = replace(RIBBON, cautions=("Screen it from the air stream", "Passive ribbon: no phantom."))
    place = next(line for line in checklist(Sheet("Hall", (each,))) if line.input_number == 2)
    assert place.caution.endswith("Screen it from the air stream. Passive ribbon: no phantom.")


def test_the_place_names_kind_unit_position_and_distance() -> None:
    place = next(line for line in checklist(SHEET) if line.input_number == 1)
    assert place.title == (
        "Lead vocal: large condenser C-01, in front of the mouth, screen half way, 15 to 25 cm"
    )


def test_a_line_level_source_is_patched_past_the_preamps_and_gets_no_phantom_line() -> None:
    only_line = checklist(Sheet("Weaving Hall", (KEYS,)))
    assert index(only_line, "Patch line 3 to the recorder's line inputs")
    assert not [line for line in only_line if line.stage is Stage.PHANTOM]


def test_valve_gear_is_warmed_up_first_and_both_ends_carry_the_caution() -> None:
    lines = checklist(Sheet("Weaving Hall", (replace(VOICE, own_supply=True, phantom=False),)))
    warm = lines[index(lines, "Warm up")]
    back = lines[index(lines, "Bring 1 back")]
    assert index(lines, "Warm up") < index(lines, "Fetch")
    assert "qualified" in warm.caution
    assert "licensed electrician" in warm.caution
    assert "Let it cool" in back.caution


def test_open_inputs_are_asked_about_first() -> None:
    lines = checklist(Sheet("Weaving Hall", (VOICE,), ("Harp: no free small condenser",)))
    assert "Harp: no free small condenser" in words(lines[:3])


def test_hearing_tripping_tall_stands_and_lifting_are_cautioned() -> None:
    said = words(checklist(SHEET))
    for caution in ("Protect ears", "walkways", "sandbag", "Two people"):
        assert caution in said


def test_an_empty_list_still_gives_a_room_to_open_and_to_close() -> None:
    lines = checklist(Sheet("The Loft", ()))
    assert lines[0].stage is Stage.SETUP
    assert lines[-1].stage is Stage.BREAKDOWN


@given(
    st.lists(
        st.tuples(
            st.sampled_from([VOICE, RIBBON, KEYS]), st.sampled_from(["a", "b" * 200, "ü"]), st.booleans()
        ),
        max_size=40,
    )
)
def test_keys_are_unique_and_short_and_the_same_for_the_same_plan(
    drawn: list[tuple[SheetInput, str, bool]],
) -> None:
    inputs = tuple(
        replace(
            base,
            number=n,
            line=n,
            recorder_input=n,
            channel=n if base.preamp else 0,
            fetch=place,
            own_supply=valve,
            unit=f"{base.unit}{n}" if base.unit else "",
        )
        for n, (base, place, valve) in enumerate(drawn, start=1)
    )
    lines = checklist(Sheet("Hall", inputs))
    keys = [line.key for line in lines]
    assert len(set(keys)) == len(keys)
    assert all(len(key) <= 80 for key in keys)
    assert lines == checklist(Sheet("Hall", inputs))
    assert {n for line in lines if (n := line.input_number)} == {each.number for each in inputs}


@given(st.sets(st.integers(1, 60)))
def test_runs_of_numbers_say_exactly_those_numbers(numbers: set[int]) -> None:
    said: set[int] = set()
    for piece in filter(None, numbers_in_words(numbers).split(", ")):
        first, _, last = piece.partition("–")
        said |= set(range(int(first), int(last or first) + 1))
    assert said == numbers


def test_what_must_not_have_phantom_goes_through_a_patch_point_only_once_it_has_drained() -> None:
    """A unit behind a patch point is met by a bank that was live for whoever had it before: common practice."""
    lines = checklist(Sheet("Hall", (VOICE, replace(RIBBON, patched=True))))
    dead_first = next(line for line in lines if line.key == "dead-first")
    assert ("Then", "phantom off everywhere, wait 90 s") in dead_first.details
    assert ("Only then through a patch point", "line 2 (R-02)") in dead_first.details
    patched = next(line for line in lines if line.key.startswith("patch"))
    assert lines.index(dead_first) < lines.index(patched)


def test_the_cable_and_the_patch_point_stand_beside_the_line() -> None:
    far = replace(VOICE, cable="XLR 10 m", patched=True)
    place = next(line for line in checklist(Sheet("Hall", (far,))) if line.key.startswith("place"))
    assert ("Cable", "XLR 10 m") in place.details
    assert ("Preamp", "Oak, channel 5, through a patch point") in place.details


def test_a_circuit_that_carries_too_much_is_a_task_of_its_own_and_the_law_decides() -> None:
    def of(share: float) -> tuple[Line, ...]:
        return checklist(
            Sheet("Hall", (VOICE,), mains=SheetMains(share * 3680, 230, 16, share, share > 0.8, unknown=2))
        )

    walk = of(0.5)[0]
    load = "1,840 W of 3,680 VA (230 V, 16 A), 50%; 2 whose watts aren't known on top; what the players bring on top"
    assert ("Mains load", load) in walk.details
    assert not [line for line in of(0.5) if line.key == "mains-load"]
    [spread] = [line for line in of(0.9) if line.key == "mains-load"]
    assert spread.title == "Spread the mains load over more circuits: 90% of one"
    assert "Local code and a licensed electrician decide." in spread.caution


def test_how_a_pair_stands_is_on_the_line_of_its_left_half_and_spares_are_at_hand() -> None:
    words = "two small condensers, capsules 17 cm apart, opened to 110°"
    lines = checklist(
        Sheet("Hall", (replace(VOICE, label="Room L", pair=words), replace(VOICE, label="Room R")))
    )
    said = {line.title.split(":")[0]: dict(line.details) for line in lines if line.key.startswith("place")}
    assert said["Room L"]["Pair"] == words
    assert "Pair" not in said["Room R"]
    comfort = next(line for line in lines if line.key == "comfort")
    assert "longer cables" in dict(comfort.details)["Spares"]
