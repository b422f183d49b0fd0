"""Waivers: which findings they set aside, and which of them are of no use any more."""

from __future__ import annotations

import datetime
from dataclasses import replace

import pytest

from fencepost.checking.finding import Finding, Place, Severity
from fencepost.checking.waivers import weigh
from fencepost.settings.areas import Box, Point
from fencepost.settings.model import Waiver
from fencepost.source import Location
from fencepost.units import Length

TODAY = datetime.date(2027, 3, 1)
LED = Finding("some-rule", Severity.WARNING, "m", Place(Location("f", 1, 1), 10.0, 5.0), ("L1",), ("LED_1",))


def waiver(**given: object) -> Waiver:
    return Waiver(**{"rule": "some-rule", "reason": "static", **given})


def weighed(finding: Finding, *waivers: Waiver, today: datetime.date = TODAY):
    return weigh([finding], waivers, today, {"some-rule", "other-rule"})


FITS = [
    (LED, {}, True),
    (LED, {"rule": "other-rule"}, False),
    (LED, {"nets": ("LED_*",)}, True),
    (LED, {"nets": ("RF_*",)}, False),
    (replace(LED, nets=("LED_1", "LED_2")), {"nets": ("LED_*",)}, True),
    (replace(LED, nets=("LED_1", "RF_1")), {"nets": ("LED_*",)}, False),
    (replace(LED, nets=("LED_1", "RF_1")), {"nets": ("LED_*", "RF_*")}, True),
    (replace(LED, nets=()), {"nets": ("LED_*",)}, False),
    (LED, {"at": Point.parse("10, 6 mm"), "radius": Length(1.0)}, True),
    (LED, {"at": Point.parse("10, 6.01 mm"), "radius": Length(1.0)}, False),
    (LED, {"box": Box.parse("10, 5, 0, 0 mm")}, True),
    (LED, {"box": Box.parse("9.99, 5, 0, 0 mm")}, False),
    (LED, {"box": Box.parse("0, 0, 20, 20 mm"), "nets": ("RF_*",)}, False),
    (LED, {"until": TODAY}, True),
    (LED, {"until": TODAY - datetime.timedelta(days=1)}, False),
]


@pytest.mark.parametrize(("finding", "given", "fits"), FITS)
def test_a_finding_is_waived_where_all_fits_that_the_waiver_gives(finding, given, fits):
    result = weighed(finding, waiver(**given))
    assert (result.findings, [one.finding for one in result.waived]) == (((), [finding]) if fits else ((finding,), []))
    assert [one.reason for one in result.waived] == ["static"] * fits


def test_a_waiver_that_ran_out_is_named_and_what_it_waived_counts_again():
    (remark,) = weighed(LED, waiver(until=datetime.date(2027, 2, 28))).remarks
    assert remark == "waive[0]: it ran out on 2027-02-28; the finding that it waived counts again"


def test_a_waiver_that_fits_nothing_is_named_with_its_key():
    result = weighed(LED, waiver(), waiver(nets=("X",)))
    assert result.remarks == ("waive[1]: no finding of some-rule fits it; take it out",)


def test_a_second_waiver_of_the_same_finding_is_in_use_as_well():
    assert weighed(LED, waiver(), waiver(nets=("LED_*",))).remarks == ()


def test_a_waiver_of_a_rule_that_did_not_run_is_not_judged():
    assert weigh([], [waiver()], TODAY, {"other-rule"}).remarks == ()
