"""Learning: never an error, whatever the bytes; and sure only of what reads the presses back."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from drivers.learn.learn import decoded, learn
from drivers.learn.press import Press
from drivers.profiles.load import parse_profile

SIZES = st.decimals(-100, 100, places=2)
QUICK = settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])


@QUICK
@given(st.lists(st.tuples(SIZES, st.binary(min_size=1, max_size=14)), max_size=7))
def test_any_bytes_are_taken_and_noise_is_never_sure(pairs: list[tuple[Decimal, bytes]]) -> None:
    learned = learn([Press(raw, size, "mm") for size, raw in pairs])
    assert learned.sure == (not learned.reasons)
    if learned.sure:
        assert learned.profile is not None
        loaded = parse_profile(learned.profile.encode(), "learned", "learned")
        for size, raw in pairs:
            said = decoded(loaded, raw)
            assert said is not None
            assert abs(Fraction(said[0]) - Fraction(size)) < 2


@QUICK
@given(st.lists(st.tuples(SIZES, st.text("0123456789+-., mE\r\n", min_size=1)), max_size=7))
def test_any_text_is_taken(pairs: list[tuple[Decimal, str]]) -> None:
    learned = learn([Press(raw.encode(), size, "mm") for size, raw in pairs])
    assert learned.sure == (not learned.reasons)


@QUICK
@given(st.lists(SIZES, min_size=6, max_size=8, unique=True), SIZES, st.integers(2, 4))
def test_what_is_sure_reads_any_other_size(
    sizes: list[Decimal], other: Decimal, width: int
) -> None:
    def write(size: Decimal) -> bytes:
        return b"\xd2\x01" + int(size * 100).to_bytes(width, "little", signed=True)

    learned = learn([Press(write(size), size, "mm") for size in sizes])
    if learned.sure:
        assert learned.profile is not None
        said = decoded(parse_profile(learned.profile.encode(), "learned", "learned"), write(other))
        assert said is not None
        assert Decimal(said[0]) == other
