"""Who hears which mix from which output on which headphones: plain rules, always the same for the same house. Pure.

A lead singer and a drummer have a mix of their own, the others share one (common practice, no single source); what the
list or a person says goes before. Each player has an output of their own while there are enough, else those with the
same mix share one, as long as the load stays above the least that the amplifier drives.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from studio.electrics import parallel_ohm
from tasks.floor.stations import Kind, Station

SHARED, SPEAKERS, DRUMS = "Band", "Speakers", "Drums"
WITHOUT = {Kind.ARRAY, Kind.PLAYBACK}
ACOUSTIC = {"strings bowed", "brass", "woodwind", "choir", "harp", "percussion", "piano"}
WITH_A_MAIN_PAIR = {
    "drum kit",
    "woodwind",
    "double bass",
    "acoustic guitar",
    "accordion/free reed",
    "plucked other",
}
IN_THE_AIR = "An acoustic ensemble hears itself in the room; with a click or a guide it wants headphones."
NO_CHOIR = "A choir sings without headphones; its conductor may want one pair."
BY_HAND = "Chosen by hand: none."
MOST_ON_ONE = 4


@dataclass(frozen=True, slots=True)
class Player:
    """Somebody at a source. own: has a mix of their own where nobody says otherwise."""

    name: str
    mix: str
    own: bool
    miked: bool
    without: str = ""


@dataclass(frozen=True, slots=True)
class Output:
    """One output of a headphone amplifier. Figures are None where they aren't known. alone: its unit has no other."""

    unit: str
    number: int
    least_load_ohm: float | None
    alone: bool

    @property
    def name(self) -> str:
        return self.unit if self.alone else f"{self.unit} output {self.number}"


@dataclass(frozen=True, slots=True)
class Phones:
    tag: str
    model: str
    impedance_ohm: float | None
    closed: bool
    where: str = ""


@dataclass(frozen=True, slots=True)
class Cue:
    """One player's headphones. output and phones are None where there are none, why says so."""

    player: str
    mix: str
    output: Output | None
    phones: Phones | None
    why: str = ""


@dataclass(frozen=True, slots=True)
class Choice:
    """What somebody has chosen for a player: a mix (empty: as planned), or no headphones."""

    mix: str = ""
    wears: bool = True


def players(
    stations: Sequence[Station], asked: Mapping[str, str], choices: Mapping[str, Choice]
) -> tuple[Player, ...]:
    """asked: mixes that the list itself names, by the player; choices: what somebody has chosen since."""
    in_the_air = plays_in_the_air(stations)
    found = []
    for station in stations:
        if station.kind in WITHOUT:
            continue
        choice = choices.get(station.key, Choice())
        wanted = choice.mix or asked.get(station.key, "")
        mix, own = (wanted, False) if wanted else _usual(station)
        without = "" if choice.wears else BY_HAND
        if not without and not wanted and station.key not in choices:
            without = NO_CHOIR if station.kind is Kind.CHOIR else IN_THE_AIR if in_the_air else ""
        found.append(Player(station.key, mix, own, bool(station.microphones), without))
    return tuple(found)


def plays_in_the_air(stations: Sequence[Station]) -> bool:
    """An ensemble of acoustic instruments with nothing from a loudspeaker or a guide; drums may be among them where a
    main pair is set before all."""
    if any(each.kind in (Kind.PLAYBACK, Kind.AMP, Kind.KEYS, Kind.SINGER) for each in stations):
        return False
    main = any(each.source_id == "main_pair" for each in stations)
    sounding = [each for each in stations if each.kind is not Kind.ARRAY]
    families = ACOUSTIC | WITH_A_MAIN_PAIR if main else ACOUSTIC
    return bool(sounding) and all(each.family in families and each.microphones for each in sounding)


def _usual(station: Station) -> tuple[str, bool]:
    """The mix of a player, and whether it is theirs alone."""
    if station.kind is Kind.KIT or station.source_id == "electronic_drums":
        return DRUMS, True
    if station.family == "vocal lead":
        return station.key, True
    return (SPEAKERS, False) if station.family == "speech" else (SHARED, False)


def cues(players: Sequence[Player], outputs: Sequence[Output], phones: Sequence[Phones]) -> tuple[Cue, ...]:
    """In the order of the players. outputs and phones: what is free, in the order in which it is liked."""
    hearing = [each for each in players if not each.without]
    given = _phones_for(hearing, phones)
    fed = _outputs_for(hearing, outputs, given)
    return tuple(_cue(each, fed.get(each.name), given.get(each.name)) for each in players)


def _cue(player: Player, output: Output | None, phones: Phones | None) -> Cue:
    if player.without:
        return Cue(player.name, "", None, None, player.without)
    lacking = []
    if phones is None:
        lacking.append("No headphones are free: hire a pair, or let two share one.")
    elif player.miked and not phones.closed:
        lacking.append("Open headphones: they are heard by the microphone. Keep them quiet.")
    if output is None:
        lacking.append(
            "No output is free: hire a headphone amplifier, or let two of one mix share an output."
        )
    return Cue(player.name, player.mix, output, phones, " ".join(lacking))


def _phones_for(hearing: Sequence[Player], phones: Sequence[Phones]) -> dict[str, Phones]:
    """Closed ones first to whoever has a microphone; open ones only when no closed are left."""
    by_need = sorted(hearing, key=lambda each: not each.miked)
    shelf = sorted(phones, key=lambda each: not each.closed)
    return {player.name: pair for player, pair in zip(by_need, shelf, strict=False)}


def _outputs_for(
    hearing: Sequence[Player], outputs: Sequence[Output], given: Mapping[str, Phones]
) -> dict[str, Output]:
    """Those with a mix of their own choose first, and take an amplifier of one player where there is one."""
    free = list(outputs)
    fed: dict[str, Output] = {}
    for player in sorted(hearing, key=lambda each: (not each.own, each.mix)):
        wanted = next((each for each in free if each.alone is player.own), free[0] if free else None)
        if wanted is None:
            wanted = next(_to_share(player, hearing, fed, given), None)
        else:
            free.remove(wanted)
        if wanted is not None:
            fed[player.name] = wanted
    return fed


def _to_share(
    player: Player, hearing: Sequence[Player], fed: Mapping[str, Output], given: Mapping[str, Phones]
) -> Iterator[Output]:
    """Outputs with the same mix that drive one pair more, those with the fewest pairs first."""
    mixes = {each.name: each.mix for each in hearing}
    same: dict[Output, list[str]] = {}
    for name, output in fed.items():
        if mixes[name] == player.mix:
            same.setdefault(output, []).append(name)
    for output, names in sorted(same.items(), key=lambda each: len(each[1])):
        pairs = [given.get(name) for name in [*names, player.name]]
        if len(pairs) <= MOST_ON_ONE and drives(output, pairs) is not False:
            yield output


def drives(output: Output, pairs: Iterable[Phones | None]) -> bool | None:
    """Whether an output drives these in parallel; None where a figure isn't known."""
    load = load_ohm(pairs)
    if load is None or output.least_load_ohm is None:
        return None
    return load >= output.least_load_ohm


def load_ohm(pairs: Iterable[Phones | None]) -> float | None:
    """Of pairs in parallel; None where one isn't known, or there are none."""
    loads = [pair.impedance_ohm if pair else None for pair in pairs]
    if not loads or any(not load or load <= 0 for load in loads):
        return None
    return parallel_ohm([load for load in loads if load])
