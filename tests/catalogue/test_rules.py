"""Ways a loop breaks timing that a rule refuses before any time is worked out."""

import pytest

from showtext import codes, findings_of, looped, small


@pytest.mark.parametrize("strip", ["Timecode", "Click", "Talkback"])
def test_what_must_never_go_round_is_refused(strip: str) -> None:
    """A pulse would be smeared and a sidetone an echo: the request is refused, and without it nothing is said."""
    inputs = f"[{{name: {strip}, ch: 1, port: stage 1, to: [Main]}}]"
    asked = looped(f"[{{strip: {strip}, chain: thin, want: 5}}]", inputs=inputs, never=f"[{strip}]")
    assert "never-passes" in codes(findings_of(asked))
    assert "never-passes" not in codes(findings_of(small(inputs=inputs, never=f"[{strip}]")))


def test_what_must_never_go_round_must_not_pass_a_loop_further_on_either() -> None:
    """Talkback into a looped main: the path is named, not only the strip."""
    inputs = "[{name: Talkback, ch: 1, port: stage 1, to: [Main]}]"
    asked = looped("[{strip: Main, chain: thin, want: 5}]", inputs=inputs, never="[Talkback]")
    assert {"never-passes", "request-refused"} & set(codes(findings_of(asked)))


def test_two_clocks_are_refused_and_one_leader_is_not() -> None:
    """10 ppm apart they slip a frame every 2.1 s at 48 kHz: slow phasing, then clicks."""
    assert pytest.approx(2.083, abs=0.001) == 1 / (48000 * 10e-6)
    free = small(clock="{leader: desk, devices: [{name: recorder, follows: itself}]}")
    led = small(clock="{leader: desk, devices: [{name: recorder, follows: desk}]}")
    assert "clock-leaders" in codes(findings_of(free))
    assert "clock-leaders" not in codes(findings_of(led))


def test_a_return_strip_left_open_on_what_it_comes_from_is_refused() -> None:
    """Its own send would hear it again, a ring: such ports are refused and the strip is named. Un-assigned it goes."""
    requests = "[{strip: Main, chain: thin, want: 5, ports: {send: aux out 1-2, return: aux in 1-2}}]"
    inputs = "[{name: Vox, ch: 1, port: stage 1, to: [Main]}, {name: Return, port: aux in 1-2%s}]"
    found = codes(findings_of(looped(requests, inputs=inputs % ", to: [Main]")))
    assert {"return-heard-twice", "request-refused"} <= set(found)
    assert "request-refused" not in codes(findings_of(looped(requests)))
