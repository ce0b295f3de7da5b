"""The page of a check: no script, nothing loaded, the user's text escaped, everything told."""

from __future__ import annotations

import dataclasses
import re
from html.parser import HTMLParser

import pandas as pd
import pytest
from outputs.small_check import NAME, small_check, trials

from zoning.checks.trials import ridge_curve
from zoning.model import Notice
from zoning.outputs.check.page import check_page, counted
from zoning.outputs.check.words import ABOVE, RUNS, told_advice


class Reader(HTMLParser):
    """Collect tags, attributes and text."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs

    def handle_data(self, data: str) -> None:
        self.text += data + " "


@pytest.fixture(scope="module")
def page() -> str:
    return check_page(small_check())


def read(page: str) -> Reader:
    reader = Reader()
    reader.feed(page)
    return reader


def test_it_runs_nothing_and_loads_nothing(page: str) -> None:
    reader = read(page)
    assert not {"script", "iframe", "img", "link", "object"} & set(reader.tags)
    names = {name for name, _ in reader.attributes}
    assert not {"src", "href", "style"} & names
    assert not [name for name in names if name.startswith("on")]
    assert "default-src 'none'" in page


def test_the_policy_names_the_style_of_the_page(page: str) -> None:
    import base64  # noqa: PLC0415
    import hashlib  # noqa: PLC0415

    style = re.search(r"<style>(.*?)</style>", page, re.DOTALL)
    assert style is not None
    digest = base64.b64encode(hashlib.sha256(style[1].encode()).digest()).decode()
    assert f"'sha256-{digest}'" in page


def test_the_users_text_is_text(page: str) -> None:
    assert "<b>Field" not in page
    assert "<X>" not in page
    assert "<C1>" not in page
    assert NAME in read(page).text


def test_it_tells_verdict_advice_and_what_is_missing(page: str) -> None:
    text = " ".join(read(page).text.split())
    assert "Reached at the leg only" in text
    assert "Drive 10 km/h instead of 4" in text
    assert "exact 80 % interval" in text
    assert "Where to dig next" in text
    assert "Mind <this>." in text
    assert "20 m outside" in text


def test_without_trial_runs_they_are_asked_for() -> None:
    text = read(check_page(small_check(runs=trials().iloc[:0]))).text
    assert "No trial runs" in text


def test_what_to_drive_is_said_by_the_advice_alone() -> None:
    check = small_check(runs=trials().iloc[:0])
    held = check.advice[check.advice["step"] != "speed"]
    text = read(check_page(dataclasses.replace(check, advice=held))).text
    assert "No trial runs." in text
    assert "km/h at one setting" not in text
    assert "next about the speed" not in text


def test_counts_read_as_a_sentence() -> None:
    whole = small_check().groups.iloc[0].to_dict()
    assert counted(whole).startswith(
        "Pan base passed at the leg in 5 of 5 pits, between legs in 0 of 5."
    )
    one = whole | {"pits": 1, "places": 1, "seen_at_leg": 1, "passed_at_leg": 1, "seen_between": 1}
    told = counted(one)
    assert told.startswith(
        "In the one pit the pan base was passed at the leg, and not passed between legs. So between"
    )
    assert "1 of 1" not in told
    none = one | {"pits": 0, "places": 0, "seen_at_leg": 0, "passed_at_leg": 0, "seen_between": 0}
    assert counted(none).startswith("No pit counts for a verdict here.")
    assert "0 of 0" not in counted(none)


def test_the_pits_that_were_not_reached_are_named_at_the_top() -> None:
    check = small_check()
    missed = check.pits.loc[check.pits["verdict"] == "leg_only", "pit"]
    assert len(missed)
    top = read(check_page(check)).text.partition("What to do")[0]
    assert f"Reached at the leg only: {', '.join(missed)}." in top


def test_ground_not_cleared_stands_whole_in_a_band_above_the_cautions_and_once() -> None:
    check = small_check()
    held = check.zones.assign(cleared=["NOT CLEARED", "located", "lifted out"])
    page = check_page(dataclasses.replace(check, zones=held))
    band = '<p class="held">NOT CLEARED: 1 of 3 zones, 1.00 ha. Deeper than 30 cm, and buried '
    assert page.index('class="warn"') < page.index(band) < page.index("<details>")
    assert page.count("buried services were not located") == 1
    assert "NOT CLEARED" not in check_page(check)


def test_pits_that_were_to_leave_the_pan_are_named_apart_from_those_not_reached() -> None:
    check = small_check()
    pits = check.pits.assign(verdict=["held", *["not_reached"] * (len(check.pits) - 1)])
    top = read(check_page(dataclasses.replace(check, pits=pits))).text.partition("What to do")[0]
    assert f"Not reached: {', '.join(pits['pit'].iloc[1:])}." in top
    assert "=A0 (held by a hazard)" in top


STOPPED = (
    Notice("caution", "check-worked-in-keep-off", "Pit A was loosened 0.1 m from the pipe."),
    Notice("caution", "check-soil-plastic", "Stop: soil was plastic in pit <B>. " + "Wait. " * 40),
)


def test_every_stop_stands_whole_once_before_all_else() -> None:
    check = small_check()
    page = check_page(dataclasses.replace(check, notices=(*STOPPED, *check.notices)))
    banner = page.index('<aside class="stop"')
    assert banner < page.index('<aside class="warn ') < page.index('<section class="verdict">')
    first = "STOP: Pit A was loosened 0.1 m from the pipe."
    second = "STOP: Soil was plastic in pit &lt;B&gt;. " + "Wait. " * 40
    for text in (first, second):
        assert page.count(text.removeprefix("STOP: ")) == 1
    assert banner < page.index(first) < page.index(second) < page.index('<aside class="warn ')
    # The line that stays in sight names no single Stop, so that it is short.
    assert "<strong>STOP: 2 reasons, at the top of the page</strong>" in page


def test_the_advice_points_to_a_stop_and_to_what_is_not_cleared_at_the_top() -> None:
    check = small_check()
    stop = Notice("caution", "check-past-cap", "Stop: pit B was loosened 40 cm deep.")
    steps = [
        ("whole field", 1, "stop", stop.text, (1,)),
        ("whole field", 2, "stop", "Stop: not at the top.", (1,)),
        ("whole field", 3, "locate", "Have services located before a leg goes that deep.", (1,)),
        ("whole field", 4, "keep", "Keep.", ()),
    ]
    advice = pd.DataFrame(steps, columns=["where", "order", "step", "text", "zones"])
    zones = check.zones.assign(cleared=["NOT CLEARED", "located", "lifted out"])
    told = dataclasses.replace(check, advice=advice, zones=zones, notices=(stop, *check.notices))
    page = check_page(told)
    assert page.count("it B was loosened 40 cm deep.") == 1
    assert (
        f"<ol><li>{ABOVE.format(RUNS)}</li><li>Stop: not at the top.</li><li>"
        "Have services located first (NOT CLEARED, at the top): for 35 cm.</li><li>Keep.</li></ol>"
    ) in page
    untried = dataclasses.replace(told, ridge=ridge_curve(trials().iloc[:0]))
    text = told_advice(untried)["text"].iloc[0]
    assert text == ABOVE.format("")
    assert "trial" not in text
    # Without the words at the top the list holds them whole.
    alone = check_page(dataclasses.replace(check, advice=advice))
    assert stop.text in alone
    assert "Have services located before a leg goes that deep." in alone


def test_a_caution_is_never_cut(page: str) -> None:
    style = page[page.index("<style>") : page.index("</style>")]
    assert "line-clamp" not in style
    assert "text-overflow" not in style


def test_pits_that_have_no_place_are_told_with_the_places_to_dig_and_not_again() -> None:
    check = small_check()
    note = Notice("note", "check-dig-room", "No place is named for 2 of the 4 pits.")
    page = check_page(dataclasses.replace(check, notices=(*check.notices, note)))
    assert page.count(note.text) == 1
    dig = page[page.index("<h2>Where to dig next") : page.index("<h2>Ridge between legs")]
    assert note.text in dig
    none = dataclasses.replace(check, dig_next=check.dig_next.iloc[:0])
    assert "No further pit is asked for." in check_page(none)
    bare = check_page(dataclasses.replace(none, notices=(note,)))
    assert note.text in bare
    assert "No further pit is asked for." not in bare


def test_without_a_stop_there_is_no_banner_of_them(page: str) -> None:
    assert '<aside class="stop"' not in page
    assert "STOP" not in page


@pytest.mark.parametrize("code", ["check-pits-older", "check-pits-of-the-day"])
def test_pits_that_may_be_older_than_the_plan_are_told_in_the_box_of_the_verdict(code: str) -> None:
    check = small_check()
    told = Notice("caution", code, "3 of 4 pits were dug before the day.")
    page = check_page(dataclasses.replace(check, notices=(told, *check.notices)))
    box = page[page.index('<section class="verdict">') : page.index("<h2>Map")]
    assert box.index(told.text) < box.index('class="word"')
    assert page.count(told.text) == 1, "a phone shows it once before the verdict"


def test_wide_tables_say_that_they_go_on_to_the_right(page: str) -> None:
    assert page.count("More columns to the right") == page.count("<table>") > 0


def test_a_stop_goes_before_the_verdict_on_the_field_and_on_its_zone() -> None:
    check = small_check()
    pit = check.pits.iloc[0]
    held = check.zones.assign(verdict=check.zones["verdict"].mask(check.zones["pits"] > 0, "held"))
    step = {"where": "30 cm", "order": 1, "step": "stop", "text": "Stop.", "zones": (pit["zone"],)}
    advice = pd.concat([pd.DataFrame([step]), check.advice], ignore_index=True)
    calm = check_page(dataclasses.replace(check, zones=held))
    page = check_page(
        dataclasses.replace(check, zones=held, advice=advice, notices=(*STOPPED, *check.notices))
    )
    assert "STOP; held" not in calm
    assert ": STOP; held by a hazard. " in page
    assert "<td>STOP; held by a hazard</td>" in page
    bare = check.zones.assign(verdict="held", pits=0)
    told = check_page(dataclasses.replace(check, zones=bare, advice=advice))
    assert told.count("<td>STOP; held by a hazard</td>") == 1, "its zone is told without others"
    assert '<p class="word">Reached at' in calm
    assert '<p class="word">Stop first, as above. Verdict: reached at' in page
