"""Worked shows as small texts on the desk type that ships: theatre, chapel, singer on in-ears, musical, club.

Invented, with answers that were worked out by hand; common practice, no source.
"""

from __future__ import annotations

LAPTOP = """
units: [{name: laptop, kind: computer, connects: card, aligns: per chain, buffer: 64,
  measured: [{buffer: 64, rate: 48000, round_trip_frames: 301}]}]
"""

EIGHT_PORTS = (
    LAPTOP
    + """
inputs:
  - {ch: 1, name: Lead vocal, port: stage 1, to: [Main]}
  - {ch: 2, name: Kick, port: stage 2, group: Drums}
  - {name: Playback, port: aux in 7-8, to: [Main]}
mixes:
  - {name: Drums, kind: group, width: stereo, to: [Main]}
  - {name: Main, kind: main, width: stereo}
outputs: [{name: PA, from: Main, port: local out 1-2}]
chains: {c: [{eq: {}}]}
requests:
  - {strip: Lead vocal, chain: c, want: 9}
  - {strip: Main, chain: c, want: 8}
  - {strip: Drums, chain: c, want: 5}
keep: [{ports: aux in 7-8, for: playback}]
"""
)
"""Eight ports that carry inserts, two of them with playback on their jacks: main, lead vocal and drums want out."""

CHAPEL = (
    LAPTOP
    + """
inputs:
  - {ch: 1, name: Lectern, port: stage 1, to: [Main]}
  - {ch: 2, name: Headset A, port: stage 2, to: [Main]}
  - {ch: 3, name: Headset B, port: stage 3, to: [Main]}
%(music)s
mixes:
  - {name: Main, kind: main, width: stereo}
  - {name: Stream, kind: matrix, width: stereo, from: {Main: {db: 0}}}
outputs:
  - {name: PA, from: Main, port: local out 1-2}
  - {name: Encoder, from: Stream, port: local out 3-4}
chains: {clean: [{eq: {}}], ceiling: [{limiter: {lookahead_frames: 64}}]}
requests:
  - {strip: Stream, chain: ceiling, want: 9}
  - {strip: Lectern, chain: clean, want: 8%(way)s}
  - {strip: Headset A, chain: clean, want: 7%(way)s}
  - {strip: Headset B, chain: clean, want: 6%(way)s}
keep: [%(keep)s]
"""
)
"""A chapel: three speech microphones and the stream want out; a recorder holds channels of the same card."""

SINGER = (
    LAPTOP
    + """
inputs:
  - {ch: 1, name: Lead vocal, port: stage 1, to: [Main], device_ms: %(wireless)s, hears: {singer: {m: 0}}}
%(dry)s
mixes:
  - {name: Lead ears, kind: aux, width: stereo, for: singer, listens: in-ear, device_ms: %(pack)s, from: %(sends)s}
  - {name: Main, kind: main, width: stereo}
outputs:
  - {name: PA, from: Main, port: local out 1-2}
  - {name: Pack, from: Lead ears, port: local out 5-6}
chains: {c: [{eq: {}}]}
requests: [{strip: Lead vocal, chain: c, want: 9}]
limits: {ear_total_ms: 12, ear_added_ms: 6}
"""
)
"""A singer hears himself through one desk for house and ears, and his voice wants out."""

SUNDAY = (
    LAPTOP
    + """
inputs:
  - {ch: 1, name: Lectern, port: stage 1, to: [Main]}
  - {ch: 2, name: Headset 1, port: stage 2, to: [Main]}
  - {ch: 3, name: Headset 2, port: stage 3, to: [Main]}
  - {ch: 4, name: Handheld 1, port: stage 4, to: [Main]}
  - {ch: 5, name: Choir, port: stage 5-6, to: [Main]}
  - {ch: 7, name: Piano, port: stage 7-8, to: [Main]}
  - {name: Video, port: aux in 5-6, to: [Main]}
  - {name: Playback, port: aux in 7-8, to: [Main]}
mixes:
  - {name: Main, kind: main, width: stereo}
  - {name: Stream, kind: matrix, width: stereo, from: {Main: {db: 0}}}
outputs:
  - {name: PA, from: Main, port: local out 1-2}
  - {name: Balcony, from: Main, port: local out 3, delay_ms: 42.1}
  - {name: Encoder, from: Stream, port: local out 5-6}
chains: {clean: [{eq: {}}], ceiling: [{limiter: {lookahead_frames: 64}}]}
requests:
  - {strip: Stream, chain: ceiling, want: 9}
  - {strip: Headset 1, chain: clean, want: 8}
  - {strip: Headset 2, chain: clean, want: 8}
keep: [{ports: card out 1-24, for: recorder}, {ports: aux in 5-8, for: playback and video}]
"""
)
"""The chapel on a Sunday: clean-up on both headsets, a limiter on the stream, playback and video on the jacks."""

MUSICAL = (
    LAPTOP
    + """
inputs:
  - {ch: 1, name: Lead 1, port: stage 1, group: Voices, hears: {lead 1: {m: 0.02}, lead 2: {m: 0.5}}}
  - {ch: 2, name: Lead 2, port: stage 2, group: Voices, hears: {lead 2: {m: 0.02}, lead 1: {m: 0.5}}}
  - {ch: 3, name: Chorus 1, port: stage 3, group: Voices}
  - {ch: 4, name: Chorus 2, port: stage 4, group: Voices}
mixes:
  - {name: Voices, kind: group, width: stereo, to: [Main]}
  - {name: Foldback, kind: aux, width: mono, from: {Lead 1: {db: -6}, Lead 2: {db: -6}}}
  - {name: Main, kind: main, width: stereo}
outputs:
  - {name: PA, from: Main, port: local out 1-2}
  - {name: Stage, from: Foldback, port: local out 5}
chains: {c: [{eq: {}}]}
requests: [%s]
keep: [{ports: aux in 3-8, for: pit microphones}]
siblings: {voices: [Lead 1, Lead 2]}
"""
)
"""A musical with two ports left for loops: the vocal group, or leads of which each is heard by the other's headset."""

CLUB = (
    LAPTOP
    + """
inputs:
  - {ch: 1, name: Kick, port: stage 1, group: Drums}
  - {ch: 2, name: Snare, port: stage 2, group: Drums}
  - {ch: 3, name: Lead vocal, port: stage 3, to: [Main], hears: {singer: {m: 0}}}
  - {ch: 4, name: Lead dry, port: stage 4, to: [Lead ears], hears: {singer: {m: 0}}}
  - {ch: 5, name: Bass, port: stage 5, to: [Main]}
  - %s
mixes:
  - {name: Drums, kind: group, width: stereo, to: [Main]}
  - {name: Lead ears, kind: aux, width: stereo, for: singer, listens: in-ear, device_ms: 3.5}
  - {name: Main, kind: main, width: stereo}
outputs:
  - {name: PA, from: Main, port: local out 1-2}
  - {name: Pack, from: Lead ears, port: local out 5-6}
chains: {c: [{eq: {}}], parallel: [{compressor: {threshold_db: -20, ratio: 4, attack_ms: 5, release_ms: 120}}]}
requests:
  - {strip: Main, chain: c, want: 8}
  - {strip: Lead vocal, chain: c, want: 9}
  - {strip: Drums, chain: parallel, want: 5}
limits: {ear_total_ms: 12, ear_added_ms: 6}
"""
)
"""A club band: main, drums and the lead vocal, whose microphone is split so that the singer hears a dry strip."""
