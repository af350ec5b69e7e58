"""A problem in a show as data: what was found, the values, what to do next.

Findings are collected, never thrown, so that one bad line does not hide the rest. Each code has one meaning,
one severity and one failing example in the tests; `docs/reference/findings.md` is made from CATALOGUE.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from types import MappingProxyType


class Severity(StrEnum):
    """How bad: an error stops the show from being trusted, a warning wants eyes, a note informs."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


_RANK = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.NOTE: 2}


@dataclass(frozen=True, slots=True)
class Kind:
    """What a code means, once for all findings that carry it."""

    severity: Severity
    meaning: str


def _kinds(severity: Severity, **meanings: str) -> dict[str, Kind]:
    return {code.replace("_", "-"): Kind(severity, meaning) for code, meaning in meanings.items()}


CATALOGUE: Mapping[str, Kind] = MappingProxyType(
    {
        **_kinds(
            Severity.ERROR,
            # the file
            file_missing="There is no show file where one was named.",
            file_unreadable="The file cannot be read as text.",
            file_too_large="A show file over 1 MB is refused before it is parsed.",
            file_empty="The file holds no show.",
            yaml_broken="The text breaks the rules of YAML.",
            yaml_tab="A tab stands where YAML allows only spaces.",
            yaml_anchor="Anchors, aliases and tags are refused: a show says everything where it stands.",
            yaml_deep="Nesting deeper than 20 levels is refused before parsing.",
            key_twice="The same key stands twice in one place.",
            version_unknown="The version key is missing or of a version this program does not know.",
            key_unknown="A key that means nothing here, with the nearest good one.",
            value_wrong="A value of the wrong type or outside its range.",
            name_unknown="A name that nothing in the show carries, with the nearest good one.",
            name_twice="Two things carry one name; names must be unique.",
            name_ambiguous="One name is both an output and a source for a listener.",
            strip_twice="Two inputs claim one strip.",
            cue_twice="One cue is written twice.",
            strip_missing="A strip number or a width that the desk does not have.",
            table_wrong="A row of a table cannot be read.",
            table_stale="The show changed since a list was written, so its rows may mean others by now.",
            table_refused="What a list says cannot be written into the show, and why.",
            # the desk
            desk_unknown="No desk type of this name, and no file at this path.",
            desk_inconsistent="A desk file contradicts itself.",
            port_unknown="A port the desk does not have.",
            block_conflict="Ports of one block are asked for two sources at once; a block has one.",
            # requests and loops
            request_twice="Two requests claim the same strip's one insert point.",
            never_passes="A path that must never pass a loop would pass one.",
            musts_conflict="The musts cannot all be met; a set that conflicts is named, none of which can be spared.",
            loop_width="A loop must have as many sends as returns as its strip is wide.",
            loop_pair="A stereo loop must sit on an odd-even pair of one block, left on odd.",
            port_two_writers="Each desk input port has one writer and each card channel one meaning.",
            ring="A strip fed by a return reaches the send of the same loop: it feeds back, or climbs to clip.",
            return_heard_twice="A return is heard through its insert and through a strip of its own.",
            card_block_full="Recorder, playback and loops ask for more card channels than a block has.",
            bypass_depends="A loop's bypass depends on the unit, or its presses are not known.",
            voice_alarm_loop="A voice alarm or evacuation path would pass a loop.",
            jack_deaf="A jack that the show uses goes deaf under a block that a loop needs.",
            mirror_plugged="What is plugged into a jack that repeats a send would carry that send.",
            clock_leaders="A digital device follows another clock than the leader's, with no rate converter named.",
            clock_rate="A digital device runs at another rate than the show, with no rate converter named.",
            scene_recalls="Recalling a scene would change a loop: its insert, its block or its card channel.",
            system_sound="A computer that carries loops sounds its own alerts on the same card.",
            safety_in_loop="What keeps from feedback, or spares ears or loudspeakers, lives in a loop alone.",
            scene_ring="Recalling a scene would close a ring: it feeds back through a unit.",
            scene_silence="Recalling a scene would leave something IN dead, or an output without what it carries.",
            stand_in_wrong="A unit that cannot take over the loops of the unit that it stands in for.",
            other_desk="Something is asked of a strip on another desk that this desk cannot do: a loop, a take, a mix.",
            no_split="A mix on another desk takes what does not come there: no split and no tie.",
            change_desk="Two shows between which somebody wants to change are not on one desk.",
            # recordings and proofs
            recording_missing="No recording where one was named.",
            recording_unreadable="A file with no sound in it that can be read.",
            recording_unlike="The files of one recording differ in sample rate.",
            take_unknown="The show has no take of this name.",
            take_wrong="A take that cannot be played or caught as it is written.",
            signal_wrong="A file that is no test signal of this program, or not the one the take asks for.",
            test_not_heard="The test signal is not in the recording.",
            proof_failed="A loop is measurably not what the plan says.",
            # evidence
            evidence_unreadable="A file that is no log of block times, or too damaged to be one.",
        ),
        **_kinds(
            Severity.WARNING,
            name_left="The old name of a row that a list renames still stands somewhere and was left as it is.",
            table_mended="Something in a table was put right while reading it, and what it was taken for.",
            name_long="A name is longer than the desk's scribble strips show.",
            voice_alarm_unprotected="A voice alarm path is not listed under never.",
            delay_unknown="A delay on a path is unknown, so totals over it are unknown.",
            no_reach="An input, a mix or a listener is connected to nothing.",
            round_trip_guessed="A unit's round trip at this buffer was not measured, but taken from other points.",
            round_trip_unknown="A unit's round trip at this buffer is unknown.",
            round_trip_uneven="The measured round trips do not lie on one line over the buffer.",
            round_trip_spread="The round trip was another one at another opening of the device.",
            rate_unlike="A unit's figures were measured at another sample rate.",
            aligns_unknown="It is unknown whether a unit delays every chain to its slowest.",
            ear_late="Somebody's ears get the sound later than the show allows.",
            delay_line_short="A delay line of the desk is too short for what meets to arrive together.",
            delay_line_missing="The desk has no delay line where one would bring what meets together.",
            picture_off="Sound and picture are further apart than viewers forgive.",
            insert_after_fader="An insert sits behind its fader, so the fader drives what is outside.",
            heard_twice="One source arrives twice at one place, apart enough to be heard.",
            plays_apart="Strips that play together are heard apart by more than players feel.",
            side_chain_off="What one strip does to another by a side chain comes too early or too late for its sound.",
            replayed_twice="What was recorded behind a loop is played through it again.",
            paths_cut="There are more paths or pairs of arrivals than are followed; the loudest were kept.",
            request_refused="A strip that wants to go out stays in; the reason is given.",
            cue_idle="A cue names a strip that asks for no loop.",
            tie="Equal wants compete and the name decided; give them different wants.",
            scene_out="Recalling a scene would take a loop OUT, or change something else that the plan set.",
            patch_gap="No order of the patch steps avoids that something is dead or lost for a while; how long.",
            stand_in_shares="What takes a unit down takes down the unit that stands in for it too.",
            stand_in_busy="A unit that stands in carries loops of its own beside, so that its load adds up.",
            stand_in_time="Once a unit has taken over, its loops are later or earlier than what is aligned to them.",
            gain_moves_ears="Turning the gain of a preamp for the drive of a loop moves mixes on another desk.",
            gain_moves_loop="Another desk owns the gain of a preamp: a turn there changes the drive of a loop.",
            gain_unknown="Nobody has said whether a turn of the gain on one desk moves the other.",
            clock_unsaid="Two desks share preamps digitally, and the file does not say which clock leads both.",
            group_key_missing="A bypass group has no single key on this desk.",
            glyph_missing="A name has characters that no font here can draw on paper.",
            recording_repaired="A recording was damaged; what was repaired and what is missing.",
            samples_not_finite="A recording holds samples that are no numbers; they were taken as silence.",
            recording_clipped="A recording or a return touches full scale.",
            speed_off="The recording runs at another speed than its file says.",
            proof_look="A loop is not quite what the plan says; somebody should look.",
            proof_blind="Something about a loop cannot be told from this recording, and why.",
            proof_changed="A loop is not what it was at an earlier proof.",
            not_adopted="A measured figure was not written into the show, and why.",
            evidence_damaged="Lines of a log are damaged and were left out.",
            evidence_partial="A log stops without its end, or blocks are missing in it.",
            evidence_refused="A log gives no bound that can be trusted, and why.",
            not_held="The buffer that ears and picture accept is not shown to hold.",
            window_empty="No buffer both holds and is accepted; the limits to give up are named.",
            reported_impossible="A driver reports a latency that cannot be.",
        ),
        **_kinds(
            Severity.NOTE,
            kept="Keys that are read and kept, but that nothing uses yet.",
            no_loops="The show asks for no loop, so there is nothing to send out.",
            filled_in="A figure that was not given was filled in with a stated default.",
            delay_differs="A delay in the show is not the one that brings what meets together.",
            buffer_chosen="A buffer was left to the program; which one it took and why.",
            accepted="One source arrives twice at one place, and somebody accepts it by name.",
            loop_not_in_ears="A loop is heard in the room and not in mixes on another desk, which come from the split.",
            heard_faintly="One source arrives twice, but so quietly, or so near at a crossover, that it costs little.",
            heard_twice_out="Two arrivals are together IN and OUT, but apart when some loops are OUT by themselves.",
            heard_twice_stand_in="Two arrivals are together IN and OUT, but apart once another unit has taken over.",
            nearly_heard="Sound that arrives twice was dropped as too quiet, and would not be if a level moved.",
            judged_harmless="Two arrivals are apart in time and do no harm; the reason is given.",
            meeting_untold="Two arrivals of one source cannot be judged; the deciding figure is named.",
            table_read="How a table was understood.",
            table_kept="What a list holds beside the show was kept, and where.",
            tap_before_delay="A mix takes a strip before its delay line, so what is dialled there does not count.",
            recorded_apart="Recordings that are mixed with each other are apart by a loop's time; by how many frames.",
            recording_padded="The files of one recording differ in length; the shorter ones were filled with silence.",
            adopted="A measured figure was written into the show.",
            evidence_none="There is no evidence of a computer that loops need.",
            evidence_starts_again="The configuration changed, so that earlier hours of evidence no longer count.",
            evidence_twice="One log is there twice and counts once.",
        ),
    }
)


@dataclass(frozen=True, slots=True)
class Finding:
    """One problem.

    code: key of CATALOGUE. where: the place by name ("requests / Drums"), stable when lines move.
    what, values, remedy: the three parts of the message. path: keys and list positions in the file, for whoever
    knows its lines. line: 1-based line in `file`, None when it has none.
    """

    code: str
    where: str
    what: str
    values: str
    remedy: str
    path: tuple[str | int, ...] = ()
    line: int | None = None
    file: str | None = None

    def __post_init__(self) -> None:
        if self.code not in CATALOGUE:
            raise KeyError(f"finding code {self.code!r} is not in the catalogue; add it there with its meaning")

    @property
    def severity(self) -> Severity:
        """The severity of the code."""
        return CATALOGUE[self.code].severity

    def at(self, line: int | None, file: str | None = None) -> Finding:
        """Return the same finding with a place in a file."""
        return replace(self, line=line, file=file or self.file)

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}: " if self.file and self.line else f"{self.file}: " if self.file else ""
        values = f" ({self.values})" if self.values else ""
        return f"{place}{self.severity}: {self.where}: {self.what}{values}. {self.remedy}"


def ordered(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Sort worst first, then by name, never by position in a file; drop exact repeats."""
    unique = dict.fromkeys(findings)
    return tuple(sorted(unique, key=lambda f: (_RANK[f.severity], f.code, f.where, f.what, f.values, f.line or 0)))


def has_errors(findings: Iterable[Finding]) -> bool:
    """Tell whether any finding is an error."""
    return any(finding.severity is Severity.ERROR for finding in findings)
