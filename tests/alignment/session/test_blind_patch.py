"""The hidden light: against shadows by hand, and against rays drawn one by one."""

from __future__ import annotations

import dataclasses
import math
import re
from itertools import combinations, pairwise
from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from backbearing.alignment.night.from_outing import scene_of
from backbearing.alignment.session.blind_patch import Eye, Light, Screen, blind_from
from backbearing.alignment.session.hidden_spots import hidden_spots
from backbearing.alignment.session.light_positions import Stage
from backbearing.alignment.session.light_session import light_session
from backbearing.alignment.stand.outline_edges import outline_area
from backbearing.alignment.stand.scene import Scene
from backbearing.alignment.view.frame_ground import HeldCamera
from backbearing.base.local_plane import LocalPlane
from backbearing.camera import Camera, Lens
from backbearing.outing.outline import Outline
from backbearing.outing.subject import Framing, Subject
from backbearing.plan.place import Place
from backbearing.sky import CORE

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from backbearing.alignment import Plan
    from backbearing.outing.request import Outing
    from backbearing.plan.lighting import Lighting
    from backbearing.plan.session import Shot
    from backbearing.terrain import Elevation

    Floats = NDArray[np.float64]

BOX = Subject(lat=36.0, lon=-84.0, height_m=6.0, width_m=4.0)
TREE = dataclasses.replace(
    BOX,
    outline=Outline.of_widths(
        [[0.0, 0.8], [2.0, 0.6], [2.6, 3.6], [4.5, 4.0], [6.0, 0.2]], height_m=6.0
    ),
)

MUSHROOM = dataclasses.replace(
    BOX,
    height_m=4.0,
    width_m=None,
    outline=Outline.of_widths(
        [[0.0, 1.2], [1.2, 0.7], [2.0, 0.8], [2.4, 3.6], [3.6, 3.0], [4.0, 1.0]], height_m=4.0
    ),
)
CLEFT = dataclasses.replace(
    BOX,
    height_m=4.0,
    width_m=None,
    outline=Outline(
        (
            ((-2.0, 0.0), (0.4, 0.0), (0.4, 4.0), (-2.0, 4.0)),
            ((0.55, 0.0), (2.0, 0.0), (2.0, 4.0), (0.55, 4.0)),
        ),
        "cleft",
    ),
)


@pytest.fixture(scope="session")
def outing(deep_valley: Outing) -> Outing:
    """A high ridge behind a low subject, which the sample has not."""
    return deep_valley


@pytest.fixture(scope="session")
def plan(deep_valley_plan: Plan) -> Plan:
    return deep_valley_plan


def stage() -> Stage:
    """A box on level ground and a light; nobody looks at it yet."""
    scene = Scene(BOX, 0.0, CORE, Camera(36.0, 24.0, 6000, 4000), Framing(), None)
    return Stage(scene, LocalPlane(BOX.lat, BOX.lon), Light(0.3, 0.5), 1.8, 40.0, (), ())


def level(east: Floats, north: Floats) -> Floats:
    return np.zeros(np.broadcast(east, north).shape)


def hill(east: Floats, north: Floats) -> Floats:
    return 0.05 * north + 0.4 * np.sin(east / 9.0)


def shown_by_ray(
    subject: Subject,
    light: Light,
    eye: Eye,
    east: float,
    north: float,
    ground_m: float,
    rays: int = 9,
) -> bool:
    """Draw a ray to many points of the light's box and see whether one passes the outline."""
    shape = outline_area(subject.shape)
    foot = shapely.intersection(shape, shapely.box(-99.0, 0.0, 99.0, 0.12)).bounds
    screen = shape.union(shapely.box(foot[0], -30.0, foot[2], 0.01))
    camera = np.array([eye.east_m, eye.north_m, eye.up_m])
    ahead = -camera[:2] / np.hypot(*camera[:2])
    right = np.array([ahead[1], -ahead[0]])
    for sideways in np.linspace(-0.5, 0.5, rays) * light.width_m:
        for up in np.linspace(0.0, 1.0, rays) * light.height_m:
            spot = np.array([*(np.array([east, north]) + sideways * right), ground_m + up])
            way = spot - camera
            # Where the ray meets the upright plane through the subject that faces the camera.
            t = -(camera[:2] @ ahead) / (way[:2] @ ahead)
            hit = camera + t * way
            if not screen.covers(shapely.Point(hit[:2] @ right, hit[2])):
                return True
    return False


def test_box_on_level_ground_is_a_wedge_less_half_the_light() -> None:
    # Eye 20 m south at 1.5 m; 4 m wide subject: half shadow at depth s is 2 (20 + s) / 20.
    light, eye, reach = Light(0.4, 0.5), Eye(0.0, -20.0, 1.5), 30.0
    patch = blind_from(Screen(BOX), light, eye, 0.0, level, reach)
    s = np.array([0.0, reach])
    half = 2.0 * (20.0 + s) / 20.0 - light.width_m / 2.0
    wedge = shapely.Polygon([(-half[0], s[0]), (half[0], s[0]), (half[1], s[1]), (-half[1], s[1])])
    assert patch.symmetric_difference(wedge).area < 0.01 * wedge.area


def test_a_light_taller_than_the_shadow_shows_over_the_top() -> None:
    # A post of 1.6 m seen from 1.8 m up and 10 m away: the line over its top sinks 0.02 m a
    # metre, so a light 1 m high is hidden until (1.6 - 1) / 0.02 = 30 m behind it.
    post = dataclasses.replace(BOX, height_m=1.6, width_m=3.0)
    patch = blind_from(Screen(post), Light(0.2, 1.0), Eye(0.0, -10.0, 1.8), 0.0, level, 60.0)
    assert patch.bounds[3] == pytest.approx(30.0, abs=0.3)


@pytest.mark.slow
@pytest.mark.parametrize("subject", [BOX, TREE])
@pytest.mark.parametrize("ground", [level, hill])
@given(seed=st.integers(0, 1000))
@settings(max_examples=4)
def test_patch_agrees_with_rays(subject: Subject, ground: object, seed: int) -> None:
    rng = np.random.default_rng(seed)
    light = Light(float(rng.uniform(0.1, 0.4)), float(rng.uniform(0.1, 0.9)))
    azimuth, distance = rng.uniform(0.0, 2.0 * np.pi), rng.uniform(8.0, 40.0)
    east, north = distance * np.sin(azimuth), distance * np.cos(azimuth)
    z = ground  # type: ignore[assignment]
    eye = Eye(east, north, float(z(np.array(east), np.array(north))) + 1.5)  # type: ignore[operator]
    patch = blind_from(Screen(subject), light, eye, 0.0, z, 25.0)  # type: ignore[arg-type]
    ahead = np.array([-east, -north]) / distance
    checked = 0
    for _ in range(120):
        depth = rng.uniform(light.width_m + 0.05, 24.0)
        aside = rng.uniform(-3.0, 3.0)
        spot = depth * ahead + aside * np.array([ahead[1], -ahead[0]])
        point = shapely.Point(spot)
        if point.distance(patch.boundary) < 0.08:
            continue
        up = float(z(spot[0], spot[1]))  # type: ignore[operator]
        shown = shown_by_ray(subject, light, eye, *spot, up)
        assert patch.covers(point) == (not shown), (spot, light)
        checked += 1
    assert checked > 30


@pytest.mark.parametrize("subject", [MUSHROOM, CLEFT])
@pytest.mark.parametrize("ground", [level, hill])
def test_nothing_of_a_light_shows_past_a_neck_or_through_a_cleft(
    subject: Subject, ground: Callable[[Floats, Floats], Floats]
) -> None:
    # A softbox 0.9 m wide and 1.8 m high, wider than the neck's overhang and than the cleft.
    light, eye = Light(0.9, 1.8), Eye(3.0, -15.0, 1.5)
    patch = blind_from(Screen(subject), light, eye, 0.0, ground, 40.0)
    rng = np.random.default_rng(1)
    west, south, east, north = patch.bounds
    inside = 0
    while inside < 80:
        spot = rng.uniform(west, east), rng.uniform(south, north)
        if patch.contains(shapely.Point(spot)):
            inside += 1
            up = float(ground(np.array(spot[0]), np.array(spot[1])))
            assert not shown_by_ray(subject, light, eye, *spot, up, rays=15), spot


def test_the_patch_begins_right_behind_the_subject() -> None:
    patch = blind_from(Screen(BOX), Light(0.9, 0.5), Eye(0.0, -20.0, 1.5), 0.0, level, 30.0)
    assert patch.bounds[1] == pytest.approx(0.0, abs=1e-9)
    assert patch.covers(shapely.Point(1.5, 0.1))
    assert not patch.covers(shapely.Point(1.6, 0.1))


def test_a_wider_or_higher_light_has_less_room() -> None:
    eye = Eye(3.0, -15.0, 1.5)
    small, wide, high = (
        blind_from(Screen(TREE), light, eye, 0.0, level, 25.0)
        for light in (Light(0.2, 0.3), Light(0.4, 0.3), Light(0.2, 1.2))
    )
    assert small.buffer(0.02).covers(wide)
    assert small.buffer(0.02).covers(high)
    assert wide.area < small.area


def test_holes_of_an_outline_let_light_through() -> None:
    ring = ((-2.0, 0.0), (2.0, 0.0), (2.0, 4.0), (-2.0, 4.0))
    hole = ((-1.0, 0.2), (1.0, 0.2), (1.0, 3.0), (-1.0, 3.0))
    arch = dataclasses.replace(
        BOX, height_m=4.0, width_m=None, outline=Outline((ring, hole), "arch")
    )
    patch = blind_from(Screen(arch), Light(0.2, 0.4), Eye(0.0, -12.0, 1.5), 0.0, level, 20.0)
    assert not patch.covers(shapely.Point(0.0, 5.0))
    assert patch.covers(shapely.Point(-1.9, 3.0))


def test_each_spot_of_the_session_hides_from_its_turns(
    plan: Plan, outing: Outing, elevation: Elevation
) -> None:
    session = plan.session
    assert session is not None
    assert session.lighting is not None
    assert_hidden(plan, outing, elevation, session.lighting, session.shots)
    served = [name for spot in session.lighting.blind.spots for name in spot.lenses]
    assert served == [shot.lens.label for shot in session.shots]


def assert_hidden(
    plan: Plan, outing: Outing, elevation: Elevation, lighting: Lighting, shots: Sequence[Shot]
) -> None:
    """By rays to the box of the light: from its spot's turns none passes the outline."""
    local = LocalPlane(plan.subject.lat, plan.subject.lon)
    light = Light(lighting.light_width_m, lighting.light_height_m)
    of_label = {shot.lens.label: shot for shot in shots}
    for spot in lighting.blind.spots:
        east, north = (float(v) for v in local.metres(lat=spot.lat, lon=spot.lon))
        up = float(elevation.height_at(lat=spot.lat, lon=spot.lon))
        for label in spot.lenses:
            stand = of_label[label].stand
            at = local.metres(lat=stand.lat, lon=stand.lon)
            eye = Eye(
                float(at[0]), float(at[1]),
                stand.ground_m + outing.framing.eye_height_m - plan.subject_ground_m,
            )  # fmt: skip
            ground = up - plan.subject_ground_m
            assert not shown_by_ray(plan.subject, light, eye, east, north, ground)


def test_one_spot_serves_stands_that_look_from_near_one_another(
    plan: Plan, outing: Outing, elevation: Elevation
) -> None:
    session = plan.session
    assert session is not None
    assert outing.session is not None
    # The first turn looks from a side too far off; the other three share a spot.
    shots = session.shots[1:]
    lighting = light_session(scene_of(outing, elevation), outing.session, shots, ())
    blind = lighting.blind
    (spot,) = blind.spots
    assert spot.lenses == tuple(shot.lens.label for shot in shots)
    assert (blind.spot_lat, blind.spot_lon) == (spot.lat, spot.lon)
    assert blind.area_m2 > 0.0
    assert blind.area.covers(shapely.Point(blind.spot_lon, blind.spot_lat))
    for _, own in blind.from_stands:
        assert own.buffer(1e-9).covers(blind.area)
    assert_hidden(plan, outing, elevation, lighting, shots)
    for room in blind.room:
        assert room.metres >= blind.spot_room_m - 0.02
        assert room.shows_from in {"", *(s.lens.label for s in shots)}
    assert "from every stand" in blind.sentence


def test_no_spot_is_inside_the_subject_or_nearer_than_a_light_can_stand(plan: Plan) -> None:
    assert plan.session is not None
    assert plan.session.lighting is not None
    lighting = plan.session.lighting
    _, low, _, high = outline_area(plan.subject.shape).bounds
    foot = shapely.box(-99.0, low, 99.0, low + 0.02 * (high - low))
    west, _, east, _ = outline_area(plan.subject.shape).intersection(foot).bounds
    # Half the trunk, half the light, and a hand's breadth of 10 cm between the two.
    least = 0.5 * (east - west + lighting.light_width_m) + 0.1
    assert len(lighting.blind.spots) >= 2
    for spot in lighting.blind.spots:
        assert spot.distance_m - spot.room_m > least - 1e-3
        assert spot.room_m >= 0.02
        assert ", ".join(spot.lenses) in lighting.blind.sentence
    assert "No spot hides" in lighting.blind.sentence
    assert math.isnan(lighting.blind.spot_lat)


def test_no_light_stands_on_closed_ground_or_water(
    plan: Plan, outing: Outing, elevation: Elevation
) -> None:
    session = plan.session
    assert session is not None
    assert session.lighting is not None
    assert outing.session is not None
    scene = scene_of(outing, elevation)
    before = session.lighting.blind.spots
    pond = shapely.union_all([shapely.Point(s.lon, s.lat).buffer(6e-6) for s in before])
    for kind, access in (("water", "unknown"), ("land", "closed")):
        barred = Place(kind, "Ferris pond (invented)", "", access, pond)
        found = light_session(scene, outing.session, session.shots, (barred,)).blind
        assert found.spots
        for spot in found.spots:
            assert not pond.covers(shapely.Point(spot.lon, spot.lat))
        assert not found.area.intersects(pond)
    everywhere = Place("land", "all of it", "", "closed", shapely.box(-85.0, 36.0, -84.0, 37.0))
    nowhere = light_session(scene, outing.session, session.shots, (everywhere,)).blind
    assert nowhere.spots == ()
    assert "does not hide" in nowhere.sentence


def test_as_few_spots_as_can_be_serve_turns_on_end() -> None:
    # Ground as squares about numbers: turns share a spot where their squares overlap.
    def ground(*at: float) -> shapely.Geometry:
        return shapely.union_all([shapely.box(x, 20.0, x + 1.0, 21.0) for x in at])

    sets = [(0.0, 2.0), (2.0, 4.0), (2.0, 6.0), (), (6.0, 8.0), (0.0, 8.0), (0.0,)]
    there = dataclasses.replace(stage(), names=tuple("abcdefg"))
    spots = hidden_spots(there, [ground(*some) for some in sets])
    least = fewest_spots([set(some) for some in sets if some])
    assert len(spots) == least == 3
    assert [spot.lenses for spot in spots] == [("a", "b", "c"), ("e", "f"), ("g",)]


def fewest_spots(sets: list[set[float]]) -> int:
    """Try every way to cut the turns into runs that have something in common."""
    fits = [
        cuts
        for count in range(len(sets))
        for cuts in combinations(range(1, len(sets)), count)
        if all(set.intersection(*sets[a:b]) for a, b in pairwise((0, *cuts, len(sets))))
    ]
    return min(len(cuts) + 1 for cuts in fits)


def test_side_lights_stand_in_no_frame(plan: Plan, outing: Outing, elevation: Elevation) -> None:
    session = plan.session
    assert session is not None
    assert session.lighting is not None
    sides = session.lighting.side_lights
    assert {side.side for side in sides} == {"left", "right"}
    from backbearing.base.geodesy import line_between
    from backbearing.camera.framing import frame_position

    for side in sides:
        ground = float(elevation.height_at(lat=side.lat, lon=side.lon))
        for shot in session.shots:
            line = line_between(
                lat1=shot.stand.lat, lon1=shot.stand.lon, lat2=side.lat, lon2=side.lon
            )
            for up in (0.0, 0.25, 0.5):
                rise = ground + up - shot.stand.ground_m - outing.framing.eye_height_m
                x, y = frame_position(
                    outing.camera, shot.lens, axis_azimuth_deg=shot.stand.bearing_deg,
                    pitch_deg=shot.stand.pitch_deg, azimuth_deg=line.azimuth_deg,
                    altitude_deg=math.degrees(math.atan2(rise, float(line.distance_m))),
                )  # fmt: skip
                assert not (0.0 <= float(x) <= 1.0 and 0.0 <= float(y) <= 1.0)
        assert session.lighting.out_of_frames.covers(shapely.Point(side.lon, side.lat))


def test_ground_in_a_frame_by_hand() -> None:
    # 36 mm wide sensor, 18 mm lens: 45 degrees to each side, so at 10 m the frame is 20 m wide.
    camera = Camera(36.0, 24.0, 6000, 4000)
    held = HeldCamera(Eye(0.0, -10.0, 1.5), camera, Lens(18.0), 0.0, 0.0)
    shown = held.ground_shown(level, reach_m=40.0, height_m=1.5)
    assert shown.covers(shapely.Point(9.0, 0.0))
    assert not shown.covers(shapely.Point(11.0, 0.0))
    assert not shown.covers(shapely.Point(0.0, -20.0))
    assert held.shows(level, 0.0, 5.0, height_m=1.8, width_m=0.6)
    assert not held.shows(level, 0.0, -15.0, height_m=1.8, width_m=0.6)
    # The lower edge falls 24/36 of a metre a metre: the ground shows from 2.25 m on.
    bare = held.ground_shown(level, reach_m=40.0, height_m=0.0)
    assert not bare.covers(shapely.Point(0.0, -8.3))
    assert bare.covers(shapely.Point(0.0, -7.2))


def test_shadows_of_people_at_earlier_stands_stay_out_of_later_frames(
    plan: Plan, outing: Outing, elevation: Elevation
) -> None:
    from backbearing.alignment.session.light_positions import stage_of

    session = plan.session
    assert session is not None
    assert outing.session is not None
    assert session.lighting is not None
    lighting = session.lighting
    assert lighting.in_later_frames == ()
    assert "would show in no later frame" in lighting.later_sentence
    # Points of every shadow, each asked of every later camera by its projection alone.
    stage = stage_of(scene_of(outing, elevation), outing.session, session.shots)
    for name, area in lighting.shadows:
        earlier = stage.names.index(name.split(", ")[0])
        flat = stage.local.to_plane(area)
        inside = list(shapely.get_coordinates(flat.segmentize(1.0)))
        for camera in stage.cameras[earlier + 1 :]:
            for east, north in inside:
                if np.hypot(east, north) < stage.reach_m:
                    assert not camera.shows(stage.ground_at, east, north, height_m=0.0, width_m=0.0)


def stands_named(sentence: str) -> set[str]:
    """Lenses whose stands a sentence names, as "the 24 mm stand" or "each stand of ..."."""
    alone = re.findall(r"(\d+ mm) stand", sentence)
    together = re.findall(r"each stand of ((?:\d+ mm(?:, )?)+)", sentence)
    return {*alone, *(label for row in together for label in re.findall(r"\d+ mm", row))}


def test_a_shadow_in_a_later_frame_is_said_where_it_cannot_be_helped(
    plan: Plan, outing: Outing, elevation: Elevation
) -> None:
    assert plan.session is not None
    assert outing.session is not None
    # Turned round, the nearer stands come first: those behind look over them.
    back = tuple(reversed(plan.session.shots))
    found = light_session(scene_of(outing, elevation), outing.session, back, ())
    assert any(one.what == "people and tripod" for one in found.in_later_frames)
    for one in found.in_later_frames:
        assert one.earlier in stands_named(found.later_sentence)
    assert "Leave nothing and nobody behind" in found.later_sentence
    assert "no later frame" not in found.later_sentence
