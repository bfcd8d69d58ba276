"""Trails, streaks, lens and plate of rendered hard frames, against what they were drawn with.

By hand, not in CI: ``make hard-frames`` prints the table of ``docs/review.md`` (three minutes),
``tests/tools/hard_frames.py --trails`` that of trail lengths (three more), and ``--seeds 50``
draws frames of chance instead and prints those of which a wrong word was said.
"""

from __future__ import annotations

import argparse
import math
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "review"))

from hard_sky import HORIZON_DEG, SITE, TIME, Scene, hardships, picture_of
from real_sky import Held
from star_fields import as_jpeg, straight_field

from backbearing.camera import Camera, Lens
from backbearing.camera.frame_attitude import FrameOptics
from backbearing.review import Picture, Pointing, measure_trails
from backbearing.review.plate_solution import Seed, solve_plate
from backbearing.review.star_list import list_stars
from backbearing.review.star_look import sky_over
from backbearing.review.words import say

if TYPE_CHECKING:
    from backbearing.review.trails import MeasuredTrails

SHUTTERS_S = (5.0, 25.0, 75.0)
SHAKE_PX = (3.5, 3.5)


class Told(NamedTuple):
    """What was said of a frame, and what of it is wrong."""

    measured: MeasuredTrails
    verdict: str
    wrong: str


def look(scene: Scene, picture: Picture) -> Told:
    """Measure a frame as a review does, and hold the words against the truth."""
    held = scene.held
    camera = Camera(
        held.sensor_mm, held.sensor_mm * held.height_px / held.width_px,
        held.width_px, held.height_px,
    )  # fmt: skip
    aim = Pointing(
        camera, Lens(held.focal_mm), held.pitch_deg, held.azimuth_deg, SITE["lat"],
        scene.shutter_s,
    )  # fmt: skip
    measured = measure_trails(
        picture, aim, sky=lambda x, y: aim.directions(x, y)[1] > HORIZON_DEG + 1.5
    )
    verdict, sentences = say(measured)
    shaken = scene.shake_px != (0.0, 0.0)
    wrong = []
    if not shaken and verdict in ("longer", "shorter", "turned"):
        wrong.append(f"{verdict}: {sentences[0]}")
    # With a large stated error "as predicted" claims little.
    if shaken and verdict == "as predicted" and measured.whole.length_sigma_px < 0.5:
        wrong.append(f"a shake of {scene.shake_px} went unseen: {sentences[0]}")
    crossed = any(layer.__name__ == "streaks" for layer in scene.sky)
    if measured.streaks and not crossed:
        wrong.append(f"{len(measured.streaks)} streaks where there are none")
    if measured.radial_px > 0.0 and not scene.coma_px:
        wrong.append(f"coma of {measured.radial_px:.1f} px where there is none")
    return Told(measured, verdict, "; ".join(wrong))


class Plate(NamedTuple):
    """How far a plate is off, pixels: the most of 25 places, the axis, and what it says of that.

    NaN where it was not solved.
    """

    most_px: float
    axis_px: float
    sigma_px: float

    @property
    def wrong(self) -> bool:
        """Whether it misleads: few stars leave the corners open, but not so far."""
        return self.axis_px > max(1.0, 4.0 * self.sigma_px) or self.most_px > 10.0


def plate_of(scene: Scene, picture: Picture, rng: np.random.Generator) -> Plate:
    """Solve a frame's plate from a rough aim, and hold it against how it was drawn."""
    held = scene.held
    optics = FrameOptics(
        Lens(held.focal_mm * rng.uniform(0.97, 1.03)), held.width_px, held.height_px,
        held.sensor_mm / held.width_px,
    )  # fmt: skip
    seed = Seed(held.azimuth_deg + rng.uniform(-8, 8), held.pitch_deg + rng.uniform(-5, 5))
    found = solve_plate(list_stars(picture), sky_over(**SITE, time=TIME), optics, seed)
    if found is None:
        return Plate(math.nan, math.nan, math.nan)
    columns, rows = (
        v.ravel()
        for v in np.meshgrid(
            np.linspace(50, held.width_px - 50, 5), np.linspace(50, held.height_px - 50, 5)
        )
    )
    x, y = held.pixels(*found.directions(columns, rows))
    middle = (held.width_px - 1) / 2.0, (held.height_px - 1) / 2.0
    axis = held.pixels(*found.directions(*(np.array([v]) for v in middle)))
    return Plate(
        float(np.hypot(x - columns, y - rows).max()),
        float(np.hypot(axis[0][0] - middle[0], axis[1][0] - middle[1])),
        found.sigma_deg / optics.pixel_deg,
    )


def table() -> int:
    """Print one row for each hardship; the count of wrong words is the exit code's."""
    print("| hardship | words right | length off, at most | stars | lens said | streaks | plate |")
    print("|---|---|---|---|---|---|---|")
    failed = 0
    for name, changes in hardships().items():
        right, off, stars, lens, crossed, plates = 0, 0.0, [], set(), set(), []
        for shutter in SHUTTERS_S:
            for shake in ((0.0, 0.0), SHAKE_PX):
                scene = Scene(shutter).but(**changes, shake_px=shake)
                picture = picture_of(scene)
                told = look(scene, picture)
                right += not told.wrong
                if told.wrong:
                    print(f"{name}, {shutter} s, {shake}: {told.wrong}", file=sys.stderr)
                if shake == (0.0, 0.0):
                    whole = told.measured.whole
                    seen = max(whole.length_px, 0.0)
                    hidden = whole.length_px == 0.0 and whole.predicted_length_px < whole.at_most_px
                    off = max(off, 0.0 if hidden else abs(seen - whole.predicted_length_px))
                    stars.append(whole.stars)
                    lens.add(round(told.measured.radial_px, 1))
                    crossed.add(len(told.measured.streaks))
                    plates.append(plate_of(scene, picture, np.random.default_rng(1)).most_px)
        failed += 6 - right
        missed = sum(math.isnan(one) for one in plates)
        plate = "not solved" if missed == len(plates) else f"{np.nanmax(plates):.2f} px"
        if 0 < missed < len(plates):
            plate += f", {missed} not solved"
        print(
            f"| {name} | {right} of 6 | {off:.2f} px | {min(stars)} to {max(stars)} "
            f"| {_range(lens, ' px')} | {_range(crossed, '')} | {plate} |",
            flush=True,
        )
    return failed


def _range(values: set[Any], unit: str) -> str:
    known = sorted(v for v in values if not math.isnan(v))
    if not known:
        return "–"
    if known[0] == known[-1]:
        return "none" if known[0] == 0 else f"{known[0]:g}{unit}"
    return f"{known[0]:g} to {known[-1]:g}{unit}"


def trails() -> int:
    """Print the largest error of length and angle in plain fields, by trail and noise."""
    noises = (0.001, 0.004, 0.01)
    print("| trail | " + " | ".join(f"noise {noise:g}" for noise in noises) + " |")
    print("|---|---|---|---|")
    for length in (1.0, 2.0, 3.0, 5.0, 8.0, 12.0, 20.0):
        cells = []
        for noise in noises:
            off, turned = 0.0, 0.0
            for seed in range(4):
                angle = 17.0 + 43.0 * seed
                image = straight_field(
                    length, angle, width_px=1400, height_px=1000, stars=300, noise=noise, seed=seed
                )
                whole = measure_trails(as_jpeg(image)).whole
                off = max(off, abs(whole.length_px - length))
                turned = max(turned, abs((whole.angle_deg - angle + 90.0) % 180.0 - 90.0))
            cells.append(f"{off:.2f} px, {turned:.1f}°")
        print(f"| {length:g} px | " + " | ".join(cells) + " |", flush=True)
    return 0


def by_chance(seeds: int, first: int) -> int:
    """Look at frames of chance, and print what was said wrongly of them."""
    names = [*hardships()][1:-1]
    failed, solved, measured = 0, 0, 0
    for seed in range(first, first + seeds):
        rng = np.random.default_rng(seed)
        focal = float(rng.choice([14.0, 20.0, 24.0, 35.0, 50.0, 85.0]))
        held = Held(
            float(rng.uniform(100, 260)), float(rng.uniform(10, 45)), float(rng.uniform(-2, 2)),
            focal, float(rng.uniform(-0.02, 0.02)),
        )  # fmt: skip
        # At most some 25 pixels of trail: 15 arcseconds a second on pixels of 24 micrometres.
        longest = 25.0 / (15.0 * 4.85e-6 * focal / 0.024)
        scene = Scene(float(np.exp(rng.uniform(np.log(2.0), np.log(longest)))), held, seed=seed)
        chosen = rng.choice(names, size=rng.integers(1, 4), replace=False)
        for name in chosen:
            scene = scene.but(**hardships()[str(name)])
        if rng.random() < 0.35:
            long = 5.0 + 25.0 * scene.shutter_s / longest
            turn = rng.uniform(0, 2 * np.pi)
            scene = scene.but(shake_px=(long * float(np.cos(turn)), long * float(np.sin(turn))))
        picture = picture_of(scene)
        told = look(scene, picture)
        plate = plate_of(scene, picture, rng)
        solved += math.isfinite(plate.most_px)
        measured += told.verdict != "too few stars"
        wrong = told.wrong
        if plate.wrong:
            wrong += f"; plate off by {plate.axis_px:.1f} px, at most {plate.most_px:.1f} px"
        if wrong:
            failed += 1
            print(
                f"seed {seed}: {focal:g} mm, {scene.shutter_s:.0f} s, {', '.join(chosen)}, "
                f"shake {np.round(scene.shake_px, 1)}: {wrong}",
                flush=True,
            )
    print(f"{seeds} frames: {measured} measured, {solved} plates solved, {failed} told wrongly")
    return failed


def main() -> None:
    """Run the table, or frames of chance."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=0)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--trails", action="store_true")
    asked = parser.parse_args()
    if asked.trails:
        failed = trails()
    else:
        failed = by_chance(asked.seeds, asked.seed) if asked.seeds else table()
    sys.exit(failed > 0)


if __name__ == "__main__":
    main()
