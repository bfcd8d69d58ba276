"""The night page in the field: its clock, corrections, ticks and place, in a real browser."""

from __future__ import annotations

import datetime as dt
import json
import math
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import pytest
from pyproj import Geod

from axe_look import look, unroll
from backbearing.alignment import plan_night
from backbearing.alignment.night.from_outing import open_elevation
from backbearing.alignment.night.prepared_night import prepare_night
from backbearing.maps import write_page
from invented import hill, write_outing

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from backbearing.alignment.night.prepared_night import PreparedNight
    from backbearing.outing.request import Outing
    from backbearing.plan.plan import Plan

pytestmark = [pytest.mark.browser, pytest.mark.slow]

PHONE, SMALL = (390, 844), (360, 640)
NO_STORE = """
const refused = { get() { throw new DOMException("no", "SecurityError"); } };
Object.defineProperty(window, "localStorage", refused);
"""


@pytest.fixture(scope="module")
def asked(tmp_path_factory: pytest.TempPathFactory) -> Outing:
    """A cairn on an invented hill at 31 S, near the end of its winter time, three lenses."""
    return write_outing(
        tmp_path_factory.mktemp("field"), lat=-31.0, lon=149.0, evening=dt.date(2027, 5, 10),
        ground=hill(60.0, 700.0), lenses=(16.0, 24.0, 85.0),
        subject={"name": "Cairn", "height_m": 7.0, "width_m": 3.0},
        night={"time_zone": "Australia/Sydney", "moon": "any"},
        session={"not_before": "20:00", "not_after": "23:30", "frames_minutes": 6},
    )  # fmt: skip


@pytest.fixture(scope="module")
def night(asked: Outing) -> PreparedNight:
    return prepare_night(asked, open_elevation(asked))


@pytest.fixture(scope="module")
def own(night: PreparedNight) -> Plan:
    plan = night.plan()
    assert plan.session is not None
    assert len(plan.session.shots) >= 2, "the invented night must have turns"
    return plan


@pytest.fixture(scope="module")
def page_file(
    own: Plan, asked: Outing, night: PreparedNight, tmp_path_factory: pytest.TempPathFactory
) -> Path:
    ground = night.scene.elevation
    assert ground is not None
    path = tmp_path_factory.mktemp("page") / "night.html"
    return write_page(own, ground, path, outing=asked)


@pytest.fixture
def at(chromium: Any) -> Iterator[Callable[..., Any]]:
    """Open a page on a phone at a moment: its zone, its place, and whether it keeps anything."""
    contexts = []

    def opened(
        path: Path, when: dt.datetime, *, size: tuple[int, int] = PHONE,
        zone: str = "Australia/Sydney", script: str = "", **options: Any,
    ) -> Any:  # fmt: skip
        context = chromium.new_context(
            viewport={"width": size[0], "height": size[1]}, offline=True, timezone_id=zone,
            reduced_motion="reduce", accept_downloads=True, **options,
        )  # fmt: skip
        contexts.append(context)
        page = context.new_page()
        page.complaints = []
        page.on("pageerror", lambda error: page.complaints.append(str(error)))
        page.on("console", lambda message: page.complaints.append(message.text))
        page.clock.set_fixed_time(when)
        if script:
            page.add_init_script(script)
        page.goto(path.as_uri())
        page.wait_for_selector("html[data-ready=yes]", timeout=20_000, state="attached")
        return page

    yield opened
    for context in contexts:
        context.close()


def _said(page: Any, where: str) -> str:
    return " ".join(page.locator(where).inner_text().split())


def _open(page: Any, fold: str) -> None:
    page.click(f'.bar [data-fold="{fold}"]')


def _clock(time: dt.datetime, plan: Plan) -> str:
    return f"{time.astimezone(ZoneInfo(plan.zone)):%H:%M}"


def _step(text: str) -> tuple[float, float]:
    """Left and nearer, metres, as the page says them."""
    found = {"left": 0.0, "nearer": 0.0}
    for part in text.split(", "):
        number, _, word = part.split(" ")
        name = {"right": "left", "farther": "nearer"}.get(word, word)
        found[name] = float(number) * (1.0 if name == word else -1.0)
    return found["left"], found["nearer"]


@pytest.mark.parametrize("minutes", [0, 7, 19])
def test_now_is_the_stand_of_this_minute(
    at: Any, page_file: Path, own: Plan, night: PreparedNight, minutes: int
) -> None:
    """Against the Python stand of the same minute, and the step by pyproj's geodesic."""
    assert own.session is not None
    shot = own.session.shots[0]
    time = shot.stand.time - dt.timedelta(minutes=minutes)
    page = at(page_file, time)
    assert _said(page, "#now-head").startswith(f"now {_clock(time, own)} AEST, {shot.lens.label}")
    i = next(k for k, lens in enumerate(own.lenses) if lens.lens == shot.lens)
    point = night.points_at(time)[i]
    azimuth, _, far = Geod(ellps="WGS84").inv(shot.stand.lon, shot.stand.lat, point.lon, point.lat)
    turn = math.radians(azimuth - shot.stand.bearing_deg)
    text = _said(page, "#now-big")
    left, nearer = (0.0, 0.0) if text == "at the peg" else _step(text)
    # Shown to a decimetre, nothing below half of one.
    assert left == pytest.approx(-far * math.sin(turn), abs=0.08)
    assert nearer == pytest.approx(far * math.cos(turn), abs=0.08)
    assert page.complaints == []


def test_the_head_says_how_long_until_what(at: Any, page_file: Path, own: Plan) -> None:
    assert own.session is not None
    first, second = own.session.shots[:2]
    minute = dt.timedelta(minutes=1)
    for time, shot, said in [
        (first.setup_start - 83 * minute, first, "in 1 h 23 min"),
        (first.focus_start - 2 * minute, first, "focus in 2 min"),
        (first.frames_start - minute, first, "frames in 1 min"),
        (first.frames_end - 4 * minute, first, "4 min left"),
        (first.frames_end + dt.timedelta(seconds=2), second, ""),
    ]:
        page = at(page_file, time)
        shown = page.locator("#next .next-turn:visible")
        assert shown.count() == 1
        text = " ".join(shown.inner_text().split())
        assert text.startswith(f"next: {shot.lens.label},")
        assert text.endswith(said)
        assert f"{shot.lens.label}" in _said(page, "#now-head")


def test_another_night_says_so_and_what_still_holds(
    at: Any, page_file: Path, own: Plan, night: PreparedNight
) -> None:
    assert own.session is not None
    stand = own.session.shots[0].stand
    # A star comes to the same place after so many sidereal days; Skyfield's sky is asked.
    time = stand.time + dt.timedelta(days=7)
    page = at(page_file, time)
    _open(page, "minute")
    about = _said(page, "#minute-about")
    assert "7 nights after the plan's" in about
    # 24 h less a mean sidereal day is 3 min 56 s: any almanac; from memory.
    assert "28 min earlier" in about
    plan_minute = _said(page, "#now-more").split("in the plan at ")[1][:5]
    later = prepare_night(_another_evening(night.outing, days=7), night.scene.elevation)
    there = later.points_at(time)
    hour, minute = map(int, plan_minute.split(":"))
    local = own.session.shots[0].stand.time.astimezone(ZoneInfo(own.zone))
    same = local.replace(hour=hour, minute=minute, second=0, microsecond=0)
    points = night.points_at(same)
    for one, other in zip(there, points, strict=True):
        # Half a minute of rounding to a whole minute turns the sky by 0.13 degrees.
        assert one.target_altitude_deg == pytest.approx(other.target_altitude_deg, abs=0.2)
    before = at(page_file, stand.time - dt.timedelta(days=3))
    _open(before, "minute")
    assert "3 nights before the plan's" in _said(before, "#minute-about")
    assert "later by the clock" in _said(before, "#minute-about")


def _another_evening(outing: Outing, *, days: int) -> Outing:
    from dataclasses import replace

    evening = outing.night.evening + dt.timedelta(days=days)
    return replace(outing, night=replace(outing.night, evening=evening))


@pytest.mark.parametrize(
    ("zone", "said"),
    [
        ("Australia/Sydney", "agrees with the plan's"),
        ("Europe/London", "9 h 00 min behind"),
        ("Pacific/Auckland", "2 h 00 min ahead"),
        ("Asia/Kathmandu", "4 h 15 min behind"),
    ],
)
def test_the_phone_s_zone_changes_no_number(
    at: Any, page_file: Path, own: Plan, zone: str, said: str
) -> None:
    """UTC+10 in Sydney's winter; +1 London's summer; +12 Auckland's winter; +5:45 Kathmandu."""
    assert own.session is not None
    time = own.session.shots[0].stand.time
    page = at(page_file, time, zone=zone)
    assert f"now {_clock(time, own)} AEST" in _said(page, "#now-head")
    _open(page, "minute")
    assert said in _said(page, "#minute-about")


def test_any_minute_by_hand_and_a_clock_that_is_fast(at: Any, page_file: Path, own: Plan) -> None:
    assert own.session is not None
    shot = own.session.shots[0]
    page = at(page_file, shot.stand.time - dt.timedelta(days=40))
    _open(page, "minute")
    page.fill("#minute-hand", _clock(shot.stand.time, own))
    page.click("#minute-set")
    assert _said(page, "#now-head").startswith(f"at {_clock(shot.stand.time, own)}")
    assert _said(page, "#minute-about").startswith("Held at")
    page.click("#minute-on")
    later = shot.stand.time + dt.timedelta(minutes=5)
    assert _said(page, "#now-head").startswith(f"at {_clock(later, own)}")
    for wrong in ("25:00", "soon", "", "12:75"):
        page.fill("#minute-hand", wrong)
        page.click("#minute-set")
        assert _said(page, "#minute-said") == "Write the time as 00:37."
    page.click("#minute-now")
    assert _said(page, "#now-head").startswith("now ")
    # Ten minutes fast: the true time is ten minutes less than the phone's.
    page = at(page_file, shot.stand.time + dt.timedelta(minutes=10))
    _open(page, "minute")
    page.fill("#clock-ahead", "10")
    page.click("#clock-set")
    assert f"now {_clock(shot.stand.time, own)}" in _said(page, "#now-head")
    page.reload()
    page.wait_for_selector("html[data-ready=yes]", state="attached")
    assert f"now {_clock(shot.stand.time, own)}" in _said(page, "#now-head")


def test_a_height_moves_every_stand_and_one_press_puts_it_back(
    at: Any, page_file: Path, own: Plan, night: PreparedNight
) -> None:
    assert own.session is not None
    shot = own.session.shots[0]
    page = at(page_file, shot.stand.time)
    planned = _said(page, ".page table.order")
    _open(page, "correct")
    page.fill("#c-height-value", "9,5")
    page.click("#correct .strong")
    taller = night.with_subject_height(9.5)
    for one in own.session.shots:
        i = next(k for k, lens in enumerate(own.lenses) if lens.lens == one.lens)
        far = taller.points_at(one.stand.time)[i].distance_m
        row = _said(page, f'.page table.order tr[data-lens="{i}"]')
        assert row.endswith(f"{far:.1f} m"), one.lens.label
    assert "as corrected" in _said(page, ".bar")
    assert page.locator("path.corrected-stand").count() == len(own.session.shots)
    i = next(k for k, lens in enumerate(own.lenses) if lens.lens == shot.lens)
    point = taller.points_at(shot.stand.time)[i]
    page.evaluate(f"document.getElementById('lens-{i}').open = true")
    card = _said(page, f"#lens-{i} dl.hand")
    assert f"{point.distance_m:.1f} m from the middle" in card
    assert f"{abs(point.pitch_deg):.1f}° {'up' if point.pitch_deg >= 0.0 else 'down'}" in card
    assert f"{point.clearance_deg:.1f}° over it" in card
    # Kept on the phone.
    page.reload()
    page.wait_for_selector("html[data-ready=yes]", state="attached")
    assert page.input_value("#c-height-value") == "9,5"
    assert _said(page, ".page table.order") != planned
    _open(page, "correct")
    page.click('[data-back="height"]')
    assert _said(page, ".page table.order") == planned
    assert "as corrected" not in _said(page, ".page")
    assert page.complaints == []


@pytest.mark.parametrize(
    ("row", "values", "said"),
    [
        ("height", ["x"], "no number"),
        ("height", ["-3"], "from 0.1 m"),
        ("height", ["1e9"], "no number"),
        ("readings", ["5", "12", "20"], "higher than the foot"),
        ("readings", ["12", "", "20"], "missing"),
        ("share", ["150"], "per cent"),
        ("compass", ["400"], "0 to 360"),
        ("focal", ["0"], "focal length"),
    ],
)
def test_what_is_no_correction_gets_one_sentence(
    at: Any, page_file: Path, own: Plan, row: str, values: list[str], said: str
) -> None:
    assert own.session is not None
    page = at(page_file, own.session.shots[0].stand.time)
    planned = _said(page, ".page table.order")
    _open(page, "correct")
    for box, value in zip(page.locator(f'[data-key="{row}"] input').all(), values, strict=True):
        box.fill(value)
    page.click("#correct .strong")
    told = _said(page, f"#s-{row}")
    assert told.startswith("Not taken: ")
    assert said in told
    assert _said(page, ".page table.order") == planned
    assert page.evaluate("document.activeElement.closest('[data-key]')?.dataset.key") == row


def test_two_readings_make_the_height(at: Any, page_file: Path, own: Plan) -> None:
    """20 m off, 20 degrees up and 4 down: 20 (tan 20 + tan 4) = 8.68 m."""
    assert own.session is not None
    page = at(page_file, own.session.shots[0].stand.time)
    _open(page, "correct")
    for name, value in (("upper", "20"), ("lower", "-4"), ("away", "20")):
        page.fill(f"#c-readings-{name}", value)
    page.click("#correct .strong")
    assert _said(page, "#s-readings") == "as corrected: 8.68 m tall"


def _ticks(page: Any, where: Path) -> dict[str, Any]:
    with page.expect_download() as coming:
        page.click("#ticks-save")
    coming.value.save_as(where)
    found: dict[str, Any] = json.loads(where.read_text(encoding="utf-8"))
    return found


@pytest.mark.parametrize("script", ["", NO_STORE])
def test_ticks_are_kept_given_out_and_read_by_the_review(
    at: Any, page_file: Path, own: Plan, tmp_path: Path, script: str
) -> None:
    from backbearing.review import read_ticks

    assert own.session is not None
    shot = own.session.shots[0]
    i = next(k for k, lens in enumerate(own.lenses) if lens.lens == shot.lens)
    page = at(page_file, shot.focus_start, script=script)
    _open(page, "ticks")
    press = f'[data-lens="{i}"][data-tick="peg set"]'
    page.click(press)
    page.click('[data-tick="gate shut"]')
    assert page.get_attribute(press, "aria-pressed") == "true"
    assert _clock(shot.focus_start, own) in _said(page, press)
    assert ("#kept=" in page.url) == bool(script)
    page.reload()
    page.wait_for_selector("html[data-ready=yes]", state="attached")
    assert page.get_attribute(press, "aria-pressed") == "true"
    _open(page, "ticks")
    document = _ticks(page, tmp_path / "ticks.json")
    assert document["format"] == "backbearing-ticks"
    ticks = read_ticks(tmp_path / "ticks.json", own.evening)
    [peg] = ticks.of_turn(shot.number, shot.lens.label)
    assert peg.what == "peg set"
    assert abs(peg.time - shot.focus_start) <= dt.timedelta(seconds=1)
    assert ticks.outing == own.name
    assert {tick.what for tick in ticks.ticks} == {"peg set", "gate shut"}
    page.click(press)
    assert page.get_attribute(press, "aria-pressed") == "false"
    page.click("#ticks-show")
    assert json.loads(page.input_value("#ticks-text"))["ticks"][0]["what"] == "gate shut"
    assert page.complaints == []


@pytest.mark.parametrize(
    "kept",
    [
        '{"corrections": {"all": 3, "lenses": {"0": []}}, "typed": 5}',
        '"x"',
        "[1]",
        "{",
        '{"ticks": {"0 peg set": "soon", "x": 1e99}}',
    ],
)
def test_what_is_kept_wrongly_does_no_harm(at: Any, page_file: Path, own: Plan, kept: str) -> None:
    script = f"""
      const get = Storage.prototype.getItem, bad = {json.dumps(kept)};
      Storage.prototype.getItem = function (name) {{
        return name.startsWith("backbearing.") ? bad : get.call(this, name);
      }};"""
    assert own.session is not None
    page = at(page_file, own.session.shots[0].stand.time, script=script)
    assert page.locator("[data-tick][aria-pressed=true]").count() == 0
    assert _said(page, "#now-big")
    assert page.complaints == []


def test_where_am_i_is_never_finer_than_the_receiver(at: Any, page_file: Path, own: Plan) -> None:
    assert own.session is not None
    stand = own.session.shots[0].stand
    geod = Geod(ellps="WGS84")
    lon, lat, _ = geod.fwd(stand.lon, stand.lat, 200.0, 143.0)
    here = {"latitude": lat, "longitude": lon, "accuracy": 8.0}
    page = at(page_file, stand.time, geolocation=here, permissions=["geolocation"])
    _open(page, "where")
    assert _said(page, "#where-said") == "", "nothing is asked before a press"
    page.click("#where")
    page.wait_for_selector("#where-said p:nth-child(2)")
    line = page.locator("#where-said p").first.inner_text()
    # 143 m at an error of 8 m: to five metres, and true north of 20 degrees.
    assert f"The {own.session.shots[0].lens.label} stand: 145 m ± 8 m" in line
    assert "(20° true), each ± 3°" in line
    assert page.locator("path.here-error").count() == 1
    page.context.set_geolocation({"latitude": stand.lat, "longitude": stand.lon, "accuracy": 8.0})
    page.click("#where")
    page.wait_for_selector("#where-said p:has-text('within the receiver')")
    assert "within the receiver's ± 8 m" in _said(page, "#where-said")


@pytest.mark.parametrize(
    "script",
    [
        "Object.defineProperty(navigator, 'geolocation', { value: undefined });",
        "navigator.geolocation.getCurrentPosition = (ok, bad) => bad({ code: 1 });",
        "navigator.geolocation.getCurrentPosition = (ok, bad) => bad({ code: 3 });",
        "navigator.geolocation.getCurrentPosition = () => { throw new Error('no'); };",
        "navigator.geolocation.getCurrentPosition = (ok) => ok({ coords: { latitude: NaN } });",
    ],
)
def test_without_a_position_one_goes_on(at: Any, page_file: Path, own: Plan, script: str) -> None:
    assert own.session is not None
    page = at(page_file, own.session.shots[0].stand.time, script=script)
    _open(page, "where")
    page.click("#where")
    assert "Go on by the compass and the tape" in _said(page, "#where-said")
    assert page.is_enabled("#where")
    assert page.complaints == []


PAINTS = """
window.papers = [];
(function look() {
  const page = document.documentElement;
  if (page && document.body) {
    const of = (one) => getComputedStyle(one).backgroundColor;
    window.papers.push([of(page), of(document.body)]);
  }
  if (window.papers.length < 40) requestAnimationFrame(look);
})();
"""


def test_it_is_red_from_dusk_on_and_never_white_before(at: Any, page_file: Path, own: Plan) -> None:
    assert own.session is not None
    page = at(page_file, own.session.shots[0].stand.time, script=PAINTS)
    assert page.evaluate("document.documentElement.dataset.theme") == "night"
    assert page.get_attribute("#theme-button", "aria-pressed") == "true"
    page.wait_for_timeout(300)
    papers = page.evaluate("window.papers")
    assert papers
    assert all(one in ("rgb(0, 0, 0)", "rgba(0, 0, 0, 0)") for pair in papers for one in pair)
    events = {event.name: event.time for event in own.events}
    for name, minutes, theme in [
        ("sunset", -10, "day"),
        ("dark", 0, "night"),
        ("dawn", 0, "night"),
        ("sunrise", 10, "day"),
    ]:
        time = events[name] + dt.timedelta(minutes=minutes)
        assert at(page_file, time).evaluate("document.documentElement.dataset.theme") == theme
    by_day = at(page_file, events["sunset"] - dt.timedelta(minutes=10), script=PAINTS)
    by_day.wait_for_timeout(200)
    assert any("rgb(0, 0, 0)" not in pair for pair in by_day.evaluate("window.papers"))


@pytest.mark.parametrize("size", [PHONE, SMALL])
@pytest.mark.parametrize("fold", ["minute", "correct", "ticks", "where"])
def test_targets_are_large_and_nothing_scrolls_sideways(
    at: Any, page_file: Path, own: Plan, size: tuple[int, int], fold: str
) -> None:
    assert own.session is not None
    page = at(page_file, own.session.shots[0].stand.time, size=size)
    _open(page, fold)
    boxes = page.eval_on_selector_all(
        f".bar button, #fold-{fold} button, #fold-{fold} input, #fold-{fold} > summary",
        """parts => parts.filter(p => p.checkVisibility()).map(p => {
            const r = p.getBoundingClientRect();
            return [p.id || p.textContent.trim(), r.width, r.height, r.left, r.right]; })""",
    )
    assert len(boxes) > 4
    for name, width, height, left, right in boxes:
        assert min(width, height) >= 48.0, (name, width, height)
        assert left >= 0.0, (name, left)
        assert right <= size[0] + 0.5, (name, right)
    assert page.evaluate(
        "['html', '#facts'].every(one => (p => p.scrollWidth <= p.clientWidth)"
        "(document.querySelector(one)))"
    )


def test_nothing_moves_while_the_minutes_pass(at: Any, page_file: Path, own: Plan) -> None:
    assert own.session is not None
    shot = own.session.shots[0]
    page = at(page_file, shot.setup_start - dt.timedelta(hours=1))
    places = """() => ['.next-turn:not([hidden])', '.now-head', '.now-big', '.now-more', '.care',
      '.mapwrap', '.panel', '.bar'].map(one => {
        const r = document.querySelector('#next ' + one)?.getBoundingClientRect()
          ?? document.querySelector(one).getBoundingClientRect();
        return [r.top, r.height]; })"""
    first = page.evaluate(places)
    for minutes in (-300, 31, 58, 63, 70, 180, 600, 5000):
        page.clock.set_fixed_time(shot.setup_start + dt.timedelta(minutes=minutes))
        page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
        assert page.evaluate(places) == first, minutes


def test_it_does_not_chatter(at: Any, page_file: Path, own: Plan) -> None:
    """What is read aloud changes with the turn, not with the minute."""
    assert own.session is not None
    shot, second = own.session.shots[:2]
    page = at(page_file, shot.setup_start - dt.timedelta(minutes=30))
    page.evaluate(
        """() => { window.heard = []; for (const spot of document.querySelectorAll(
          '[aria-live], [role=status], [role=alert]')) new MutationObserver(() =>
          window.heard.push(spot.textContent)).observe(spot, { childList: true, subtree: true,
          characterData: true }); }"""
    )
    for minutes in range(1, 12):
        page.clock.set_fixed_time(shot.setup_start - dt.timedelta(minutes=30 - minutes))
        page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    assert page.evaluate("window.heard") == []
    page.clock.set_fixed_time(shot.frames_end + dt.timedelta(seconds=5))
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    page.wait_for_timeout(50)
    assert page.evaluate("window.heard") == [f"Next: {second.lens.label}."]


@pytest.fixture(scope="module")
def autumn(tmp_path_factory: pytest.TempPathFactory) -> tuple[Plan, Path]:
    """The night in which Sydney's summer time ends: 3 April 2027, 03:00 becomes 02:00."""
    folder = tmp_path_factory.mktemp("autumn")
    asked = write_outing(
        folder, lat=-31.0, lon=149.0, evening=dt.date(2027, 4, 3), ground=hill(60.0, 700.0),
        lenses=(24.0,), subject={"name": "Cairn", "height_m": 7.0, "width_m": 3.0},
        night={"time_zone": "Australia/Sydney", "moon": "any"},
    )  # fmt: skip
    ground = open_elevation(asked)
    plan = plan_night(asked, ground)
    return plan, write_page(plan, ground, folder / "night.html", outing=asked)


def test_an_hour_that_comes_twice_is_told_apart(at: Any, autumn: tuple[Plan, Path]) -> None:
    plan, path = autumn
    summer = dt.datetime(2027, 4, 3, 15, 30, tzinfo=dt.UTC)
    for time, letters in ((summer, "AEDT"), (summer + dt.timedelta(hours=1), "AEST")):
        page = at(path, time)
        assert _said(page, "#now-head").startswith(f"now 02:30 {letters}")
    _open(page, "minute")
    page.fill("#minute-hand", "02:30")
    page.click("#minute-set")
    assert "twice this night; this is the one in AEDT" in _said(page, "#minute-said")
    page.click("#minute-set")
    assert "this is the one in AEST" in _said(page, "#minute-said")
    assert plan.zone == "Australia/Sydney"


def test_a_time_that_the_clocks_skip_is_none(at: Any, page_file: Path, own: Plan) -> None:
    """Sydney goes from 02:00 to 03:00 on 3 October 2027, at 16:00 UTC of the day before."""
    change = dt.datetime(2027, 10, 2, 16, tzinfo=dt.UTC).timestamp()
    field = {
        "zone": "Australia/Sydney", "fixed": True,
        "start_s": change - 6 * 3600, "end_s": change + 3 * 3600,
        "offsets": [[change - 86400, 36000, "AEST"], [change, 39600, "AEDT"]],
    }  # fmt: skip
    page = at(page_file, own.made)
    moments = "([field, minutes]) => fieldClock(field).moments(minutes)"
    assert page.evaluate(moments, [field, 150]) == []
    assert page.evaluate(moments, [field, 90]) == [change - 1800]
    assert page.evaluate(moments, [field, 210]) == [change + 1800]
    shown = "([field, time]) => fieldClock(field).hm(time)"
    assert page.evaluate(shown, [field, change - 60]) == "01:59"
    assert page.evaluate(shown, [field, change]) == "03:00"


def test_a_clock_that_goes_back_is_told(at: Any, page_file: Path, own: Plan) -> None:
    assert own.session is not None
    time = own.session.shots[0].stand.time
    page = at(page_file, time)
    page.clock.set_fixed_time(time - dt.timedelta(minutes=60))
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    assert "went back by 1 h 00 min" in page.locator("#said").text_content()


def test_the_screen_stays_on_where_there_is_a_lock(at: Any, page_file: Path, own: Plan) -> None:
    lock = """window.locks = [];
      const lock = { request: async (what) => { window.locks.push(what);
        return { release: async () => window.locks.push("released") }; } };
      Object.defineProperty(navigator, "wakeLock", { value: lock });"""
    assert own.session is not None
    page = at(page_file, own.session.shots[0].stand.time, script=lock)
    _open(page, "minute")
    assert page.evaluate("window.locks") == [], "nothing is asked before a press"
    page.click("#awake")
    page.wait_for_timeout(50)
    assert page.evaluate("window.locks") == ["screen"]
    page.click("#awake")
    page.wait_for_timeout(50)
    assert page.evaluate("window.locks") == ["screen", "released"]
    refused = lock.replace("window.locks.push(what);", "throw new Error('no');")
    page = at(page_file, own.session.shots[0].stand.time, script=refused)
    _open(page, "minute")
    page.click("#awake")
    page.wait_for_timeout(50)
    assert "refuses" in _said(page, "#awake-said")
    assert page.complaints == []


@pytest.mark.parametrize("hours", [0, 12])
def test_axe_finds_nothing_serious_in_the_field(
    at: Any, page_file: Path, own: Plan, hours: int
) -> None:
    """By night and by day, with everything open and corrected; see test_accessibility."""
    assert own.session is not None
    page = at(page_file, own.session.shots[0].stand.time + dt.timedelta(hours=hours))
    _open(page, "correct")
    page.fill("#c-height-value", "9")
    page.fill("#c-share-value", "999")
    page.click("#correct .strong")
    page.click("#sheet-button")
    unroll(page)
    bad, legible = look(page)
    assert bad == []
    assert legible > 100


def test_a_page_that_carries_nothing_says_so(
    at: Any, own: Plan, night: PreparedNight, tmp_path: Path
) -> None:
    assert own.session is not None
    assert night.scene.elevation is not None
    path = write_page(own, night.scene.elevation, tmp_path / "bare.html")
    page = at(path, own.session.shots[0].stand.time)
    assert "cannot work out stands" in _said(page, "#now-more")
    _open(page, "correct")
    assert page.locator("#correct").is_hidden()
    assert page.complaints == []


def test_every_row_reaches_the_solver(at: Any, page_file: Path, own: Plan) -> None:
    """Each correction moves what it should, and what the review reads of it is readable."""
    assert own.session is not None
    page = at(page_file, own.session.shots[0].stand.time)
    _open(page, "correct")
    stand = own.session.shots[0].stand
    needle = stand.bearing_magnetic_deg
    rows = {
        "width": "4", "back": f"{0.7 * stand.distance_m:.1f}", "ground": "-1", "eye": "0.9",
        "focal": f"{1.2 * stand.lens.focal_length_mm:.0f}", "share": "30",
        "compass": f"{(needle + 6.0) % 360.0:.0f}", "skyline": "9.5",
    }  # fmt: skip
    before = _said(page, "#now-head") + _said(page, "#now-big") + _said(page, "#now-more")
    for name, value in rows.items():
        page.fill(f"#c-{name}-value", value)
        page.click("#correct .strong")
        page.wait_for_timeout(300)
        assert _said(page, f"#s-{name}").startswith("as corrected"), name
        now = _said(page, "#now-head") + _said(page, "#now-big") + _said(page, "#now-more")
        kept = page.evaluate("JSON.parse(localStorage.getItem(Object.keys(localStorage)[0]))")
        assert kept["corrections"], name
        shown = _said(page, ".next-turn:visible")
        if name == "back":
            assert f"{0.7 * stand.distance_m:.1f} m" in shown
        if name == "compass":
            off = (float(value) - needle + 180.0) % 360.0 - 180.0
            assert f"{abs(off):.1f}° too much" in _said(page, "#s-compass")
            out = round((needle + 180.0 + off) % 360.0)
            assert f"{out}° by compass" in shown
        if name == "skyline":
            assert "ridge" in now, "a ridge at 9.5 degrees spoils the minute or ends it sooner"
        page.click(f'[data-back="{name}"]')
    page.wait_for_timeout(300)
    assert before == _said(page, "#now-head") + _said(page, "#now-big") + _said(page, "#now-more")
    assert page.complaints == []


def test_the_late_table_follows_a_correction(
    at: Any, page_file: Path, own: Plan, night: PreparedNight
) -> None:
    """A step from the corrected stand to the one of a later start; pyproj's geodesic between."""
    assert own.session is not None
    shot = own.session.shots[0]
    i = next(k for k, lens in enumerate(own.lenses) if lens.lens == shot.lens)
    page = at(page_file, shot.stand.time)
    _open(page, "correct")
    page.fill("#c-height-value", "8")
    page.click("#correct .strong")
    page.wait_for_timeout(500)
    columns = sorted({late.late_minutes for one in own.session.shots for late in one.late})
    cells = page.locator("#session .late tbody tr").first.locator("td").all_text_contents()
    taller, tried = night.with_subject_height(8.0), 0
    start = taller.points_at(shot.stand.time)[i]
    for minutes, cell in zip(columns, cells, strict=True):
        then = taller.points_at(shot.stand.time + dt.timedelta(minutes=minutes))[i]
        if cell.startswith("too late"):
            assert then.limits, cell
            continue
        geod = Geod(ellps="WGS84")
        azimuth, _, far = geod.inv(start.lon, start.lat, then.lon, then.lat)
        turn = math.radians(azimuth - start.bearing_deg)
        left, nearer = (0.0, 0.0) if cell == "at the peg" else _step(cell)
        assert left == pytest.approx(-far * math.sin(turn), abs=0.08)
        assert nearer == pytest.approx(far * math.cos(turn), abs=0.08)
        tried += 1
    assert tried
