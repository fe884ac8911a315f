"""Which step a press answers: an ordered table of rules, first match wins.

Each rule either has no objection or names one with its numbers. A press that a rule objects to is
stored, shown with the reason, and not counted until a person decides; nothing is refused and
nothing is converted in silence. The rules themselves are in ``capture.rules``.

====  ==========================  ==========================================================
order code                        objection
====  ==========================  ==========================================================
 1    zero-check                  announced as the gauge's zero check: it answers that alone
 2    no-open-build               no build is open and active on this bench
 3    no-open-step                nothing is left to do, or what is left is held by a result
 4    not-a-measuring-step        the current step asks for a confirmation
 5    unknown-instrument          the ledger has no record of this instrument
 6    unsuitable-instrument       the step wants another kind of instrument
 7    unknown-unit                the unit is not known, or not of the step's dimension
 8    calibration-overdue         only where the spec says overdue instruments are held
 9    gauge-not-set               a comparative gauge with no setting standard on record
10    another-gauges-set          a zero check by one gauge, while another one's set is open
11    limits-not-known            the limits follow from a size that is not measured yet
12    tightened-into-yield        the fastener was tightened into yield before
13    wrong-direction             a counterclockwise pull where a fastener is to be tightened
14    incomplete-pull             the torque trace ends under load, or a part of it is missing
15    repeated-press              same digits from the same instrument within the repeat window
16    second-pull                 another pull of the same tool within the repeat window
17    not-bracketed               a feeler leaf that goes, without one that does not
18    neighbours-not-said         the leaves seen beside the leaf used were not entered
19    leaf-not-in-set             no leaf of the set is so thick
20    leaf-twice                  one leaf entered twice in a stack
21    stack-not-said              several leaves, not said to be stacked
22    stack-of-one                one leaf, said to be stacked
23    neighbour-not-in-set        what was seen beside the leaf is no leaf of the set
24    hidden-leaf                 the neighbours seen enclose two leaves: one hides behind another
25    wrong-leaf                  the neighbours seen enclose another leaf
26    no-leaf-between             no leaf of the set lies between the neighbours seen
27    extension-slip              implausible, plausible with an extension it had before
28    unit-slip                   implausible as sent, plausible in another unit
29    wrong-standard              implausible, plausible with another standard the gauge was set on
30    fits-another-step           implausible here, plausible at another open step
31    decimal-slip                implausible as sent, plausible with the point moved
32    sign-slip                   implausible as sent, plausible with the other sign
33    outside-instrument-range    the value cannot be shown by this instrument
34    implausible-size            outside the plausible band, and nothing above fits
35    finer-than-shown            plausible, with digits that the instrument cannot show
36    late                        older than the step that is open
37    unlike-its-set              far from the other sizes of its part, or where a sister's was
38    finer-step-wanted           a bracket that reaches over a limit, and a finer step to try
====  ==========================  ==========================================================
"""

from __future__ import annotations

from capture.case import Case, measured_at, within
from capture.rules import bench, leaf, press, size, tighten
from capture.rules.objection import Objection, Rule
from capture.rules.sets import another_gauges_set, zero_check

BEFORE: tuple[Rule, ...] = (
    zero_check,
    bench.no_open_build,
    bench.no_open_step,
    bench.not_measuring,
    bench.unknown_instrument,
    bench.unsuitable,
    bench.unknown_unit,
    bench.calibration_overdue,
    bench.not_set,
    another_gauges_set,
    bench.limits_not_known,
    tighten.tightened_into_yield,
    press.wrong_direction,
    tighten.incomplete_pull,
    press.repeated,
    tighten.second_pull,
    leaf.leaf,
)
IF_IMPLAUSIBLE: tuple[Rule, ...] = (
    tighten.extension_slip,
    size.unit_slip,
    size.wrong_standard,
    size.fits_another,
    size.decimal_slip,
    size.sign_slip,
    size.out_of_range,
    size.implausible,
)


def objection(case: Case) -> Objection | None:
    """The first objection to placing the press on the current step; None: it is placed there, if
    it belongs to its set (``capture.rules.sets.unlike_its_set``, asked last).

    Sets ``case.measured`` when it gets that far.
    """
    for rule in BEFORE:
        found = rule(case)
        if found is not None:
            return found
    assert case.step is not None
    case.measured = measured_at(case, case.step)
    if not within(case.step.plausible, case.measured):
        for rule in IF_IMPLAUSIBLE:
            found = rule(case)
            if found is not None:
                return found
    return size.out_of_range(case) or bench.finer_than_shown(case) or press.late(case)
