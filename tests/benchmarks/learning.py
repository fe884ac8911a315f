"""``python -m tests.benchmarks.learning``: unknown gauges learned from five to seven presses.

Formats are invented and generated from a word. A format is *learned* when the learner is sure of it
and its profile then reads all of fifty further presses as the display showed them. Being sure and
reading one of them wrong is the worst that can happen; so is being sure from presses that settle
nothing.
"""

from __future__ import annotations

import argparse
import json
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Literal, NamedTuple

from capture.errors import DecodingError
from drivers.decoding.message import Decode
from drivers.framing.frame import Framer
from drivers.learn.learn import learn
from drivers.learn.press import press_from
from drivers.profiles.load import parse_profile
from simulators.formats import Format, Press, Thin, ambiguous, corpus

WORD = "a gauge nobody knows"
HOLD_OUT = "another word, not looked at"
GOAL = 0.97
MOST_SECONDS = 1.0
FAILED = "the learner failed"
"""How the detail begins where the learner raised an error instead of saying that it is not sure."""

Verdict = Literal["learned", "not sure", "refuses some", "WRONG WHILE SURE"]


class Read(NamedTuple):
    """What a profile says of one message."""

    value: str | None
    """None where it was refused."""
    unit: str | None
    detail: str = ""


class Answer(NamedTuple):
    """What a learner says of some presses."""

    sure: bool
    detail: str
    read: Callable[[Sequence[bytes]], list[Read]]
    """Messages by the profile; to be called where sure."""


Learner = Callable[[Sequence[Press]], Answer]


class Outcome(NamedTuple):
    """One format tried."""

    name: str
    shape: str
    verdict: Verdict
    seconds: float
    same_digits: bool
    """Whether all values came with the display's digits, trailing zeros too."""
    detail: str


def try_format(learner: Learner, made: Format) -> Outcome:
    """Learns ``made`` and reads its further presses."""
    start = time.perf_counter()
    answer = learner(made.presses)
    took = time.perf_counter() - start
    if not answer.sure:
        return Outcome(made.name, made.shape, "not sure", took, False, answer.detail)
    reads = answer.read([press.raw for press in made.further])
    verdict: Verdict = "learned"
    detail = ""
    same = True
    for press, read in zip(made.further, reads, strict=True):
        if read.value is None:
            if verdict == "learned":
                verdict, detail = "refuses some", f"{press.raw!r}: {read.detail}"
        elif not made.right(press, read.value, read.unit):
            verdict = "WRONG WHILE SURE"
            detail = f"{press.raw!r}: {read.value} {read.unit}, not {press.value} {press.unit}"
            break
        same = same and read.value == press.value
    return Outcome(made.name, made.shape, verdict, took, same, detail)


def try_thin(learner: Learner, thin: Thin) -> Outcome:
    """Presses that settle nothing: only being unsure is right."""
    start = time.perf_counter()
    answer = learner(thin.presses)
    took = time.perf_counter() - start
    verdict: Verdict = "WRONG WHILE SURE" if answer.sure else "not sure"
    return Outcome(thin.name, thin.why, verdict, took, False, answer.detail)


def by_module(presses: Sequence[Press]) -> Answer:
    """The inference alone, and its profile as a port would use it."""
    try:
        learned = learn([press_from(press.line()) for press in presses])
    except (ArithmeticError, AssertionError, LookupError, TypeError, ValueError) as error:
        return Answer(False, f"{FAILED}: {error!r}", lambda messages: [])
    return Answer(learned.sure, "; ".join(learned.reasons), _reader(learned.profile))


def _reader(profile: str | None) -> Callable[[Sequence[bytes]], list[Read]]:
    def read(messages: Sequence[bytes]) -> list[Read]:
        assert profile is not None, "sure, and no profile"
        loaded = parse_profile(profile.encode(), "learned", "learned profile")
        decode = loaded.decoding.decoder(*loaded.framing.edges)
        return [_read(loaded.framing.framer(), decode, raw) for raw in messages]

    return read


def _read(framer: Framer, decode: Decode, raw: bytes) -> Read:
    """What comes of one press: one value, whatever else (an echo) is in it."""
    values, faults = [], []
    for item in [*framer.feed(raw, 0), *framer.drain()]:
        if not isinstance(item, bytes):
            faults.append(item.detail)
            continue
        try:
            digits, unit, _, _ = decode(item)
        except DecodingError as error:
            faults.append(str(error))
        else:
            values.append(Read(digits, unit))
    return values[0] if len(values) == 1 else Read(None, None, "; ".join(faults) or "no message")


def by_command(presses: Sequence[Press]) -> Answer:
    """The same through the command line: ``learn --capture``, then ``decode --hex-lines``."""
    folder = Path(tempfile.mkdtemp(prefix="learning-"))
    capture, profile = folder / "presses.jsonl", folder / "profile.toml"
    capture.write_text("".join(json.dumps(press.line()) + "\n" for press in presses))
    ran = _command("learn", "--capture", str(capture), "--save", str(profile), "--json")
    if ran.returncode not in (0, 3):
        raise RuntimeError(f"learn ended with {ran.returncode}: {ran.stderr or ran.stdout}")

    def read(messages: Sequence[bytes]) -> list[Read]:
        lines = "".join(raw.hex() + "\n" for raw in messages)
        said = _command("decode", "--profile", str(profile), "--hex-lines", given=lines).stdout
        rows = [json.loads(line) for line in said.splitlines()]
        return [Read(row.get("value"), row.get("unit"), str(row.get("error"))) for row in rows]

    return Answer(ran.returncode == 0, ran.stdout.strip(), read)


def _command(*words: str, given: str | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "api.cli", *words],
        input=given,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


class Tried(NamedTuple):
    """A corpus and the thin cases, tried."""

    outcomes: list[Outcome]
    thin: list[Outcome]

    @property
    def share(self) -> float:
        """Learned, of all formats."""
        return sum(one.verdict == "learned" for one in self.outcomes) / len(self.outcomes)

    @property
    def wrong(self) -> list[Outcome]:
        """Wrong while sure, thin cases too."""
        return [one for one in (*self.outcomes, *self.thin) if one.verdict == "WRONG WHILE SURE"]

    @property
    def slowest(self) -> float:
        """Seconds."""
        return max(one.seconds for one in self.outcomes)


def try_all(learner: Learner, word: str, share: float = 1.0, only: str = "") -> Tried:
    """The corpus of ``word`` (or a ``share`` of it), and its thin cases."""
    return Tried(
        [try_format(learner, made) for made in corpus(word, share) if only in made.name],
        [try_thin(learner, case) for case in ambiguous(word) if only in case.name],
    )


VERDICTS: tuple[Verdict, ...] = ("learned", "not sure", "refuses some", "WRONG WHILE SURE")


def markdown(tried: Tried) -> str:
    """The table by shape."""
    shapes = list(dict.fromkeys(one.shape for one in tried.outcomes))
    rows = [("shape", "formats", *VERDICTS, "the display's digits", "median, slowest")]
    for shape in shapes:
        rows.append(_row(shape, [one for one in tried.outcomes if one.shape == shape]))
    rows.append(_row("**all**", tried.outcomes))
    if tried.thin:
        unsure = sum(one.verdict == "not sure" for one in tried.thin)
        rows.append(
            ("presses that settle nothing", str(len(tried.thin)), "", str(unsure), "",
             str(len(tried.thin) - unsure), "", _times(tried.thin))
        )  # fmt: skip
    head, *rest = rows
    return "\n".join("| " + " | ".join(row) + " |" for row in [head, ("---",) * len(head), *rest])


def _row(title: str, outcomes: list[Outcome]) -> tuple[str, ...]:
    counts = [sum(one.verdict == verdict for one in outcomes) for verdict in VERDICTS]
    same = sum(one.same_digits for one in outcomes)
    return (title, str(len(outcomes)), *map(str, counts), str(same), _times(outcomes))


def _times(outcomes: Iterable[Outcome]) -> str:
    times = [one.seconds for one in outcomes]
    return f"{statistics.median(times):.2f} s, {max(times):.2f} s"


def as_text(tried: Tried) -> str:
    """Every outcome that is not as it should be, one a line."""
    odd = [one for one in tried.outcomes if one.verdict != "learned"]
    odd += [one for one in tried.thin if one.verdict != "not sure"]
    return "\n".join(f"{one.verdict}: {one.name} ({one.shape}): {one.detail}" for one in odd)


def main() -> int:
    """Tries one or more words; 1 where anything was wrong while sure."""
    parser = argparse.ArgumentParser(description="Learns invented gauges from a few presses.")
    parser.add_argument("--word", action="append", help="a corpus; may be given several times")
    parser.add_argument("--share", type=float, default=1.0, help="part of each shape's formats")
    parser.add_argument("--only", default="", help="formats whose name holds this")
    parser.add_argument("--command", action="store_true", help="through the command line: slow")
    parser.add_argument("--show", action="store_true", help="print what was tried and not learned")
    given = parser.parse_args()
    wrong = 0
    for word in given.word or [WORD, HOLD_OUT]:
        learner = by_command if given.command else by_module
        tried = try_all(learner, word, given.share, given.only)
        print(f"Corpus {word!r}: {tried.share:.1%} learned\n\n{markdown(tried)}\n")
        if given.show:
            print(as_text(tried) + "\n")
        wrong += len(tried.wrong)
    return int(wrong > 0)


if __name__ == "__main__":
    sys.exit(main())
