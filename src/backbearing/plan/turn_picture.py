"""What a session's turns show, what that counted in the choice, and what was not chosen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import datetime as dt


@dataclass(frozen=True, slots=True)
class TurnPicture:
    """What one turn's picture falls short of, and what that counts.

    Attributes
    ----------
    above_top_deg, above_top_wanted_deg, above_top_off_deg : float
        The target over the subject's top in the middle of the frames, as it is, as wanted,
        and how far the two are apart.
    ridge_doubt_deg, ridge_short_deg : float
        What the doubt of the skyline may take from the least clearance, and by how much the
        rest falls short of the asked clearance.
    skyline_break_short_deg : float
        By how much the subject's top stands too low over the land behind it.
    alike_off_deg : float
        How far the target's height over the top differs from that of the turn before; NaN
        for the first.
    above_top_cost_m, ridge_cost_m, skyline_break_cost_m, alike_cost_m : float
        What each counts, metres of walking; what is unknown counts nothing.
    stand_before_shows : bool
        Whether somebody who stayed at the stand of the turn before would show.
    light_moves : bool
        Whether no spot hides a light both from this stand and from the one before, the
        subject taken as a post.
    stand_before_shows_cost_m, light_moves_cost_m : float
        What each counts, metres of walking; 0 for the first turn.
    """

    above_top_deg: float
    above_top_wanted_deg: float
    above_top_off_deg: float
    ridge_doubt_deg: float
    ridge_short_deg: float
    skyline_break_short_deg: float
    alike_off_deg: float
    above_top_cost_m: float
    ridge_cost_m: float
    skyline_break_cost_m: float
    alike_cost_m: float
    stand_before_shows: bool
    light_moves: bool
    stand_before_shows_cost_m: float
    light_moves_cost_m: float

    @property
    def cost_m(self) -> float:
        """All that this turn's picture counts, metres."""
        return self.above_top_cost_m + self.ridge_cost_m + self.skyline_break_cost_m


@dataclass(frozen=True, slots=True)
class TurnSky:
    """The sky behind one turn's target, and what that counts where the session weighs it.

    Attributes
    ----------
    air_mag : float
        How much dimmer than overhead the air makes the target; NaN where it is not weighed.
    bright_sky_mag : float
        How much brighter the sky behind it is than a natural zenith of 22.0, Moon and twilight
        included, the Milky Way's own light not; NaN where unknown or not weighed.
    cloud_share : float
        Cloud in the line of sight by the forecast, 0 to 1; NaN likewise.
    air_cost_m, bright_sky_cost_m, cloud_cost_m : float
        What each counts, metres of walking; what is unknown counts nothing.
    """

    air_mag: float
    bright_sky_mag: float
    cloud_share: float
    air_cost_m: float
    bright_sky_cost_m: float
    cloud_cost_m: float

    @property
    def cost_m(self) -> float:
        """All that this turn's sky counts, metres."""
        return self.air_cost_m + self.bright_sky_cost_m + self.cloud_cost_m


@dataclass(frozen=True, slots=True)
class OtherStart:
    """Another start of a turn, with what it would change; changes are it less the chosen one.

    Attributes
    ----------
    why : str
        What it is better in: ``"above top"``, ``"ridge"``, ``"skyline break"``, ``"air"``,
        ``"bright sky"``, ``"cloud"``, or ``"walking"``: the start that walking and waiting alone
        would choose.
    frames_start : datetime
        UTC.
    minutes : float
        How much later; negative is earlier.
    above_top_change_deg, clearance_change_deg, skyline_break_change_deg : float
        Of the target over the top, of the least clearance and of the subject's top over the
        land behind it.
    picture_saves_m : float
        What this turn's own picture would count less.
    costs_m : float
        What the whole session would count more, in its order, the other turns at their best
        for that: never below 0. NaN for ``"walking"``, which may have another order.
    sentence : str
    """

    why: str
    frames_start: dt.datetime
    minutes: float
    above_top_change_deg: float
    clearance_change_deg: float
    skyline_break_change_deg: float
    picture_saves_m: float
    costs_m: float
    sentence: str


@dataclass(frozen=True, slots=True)
class SessionPrice:
    """What heeding the picture costs, against walking and waiting alone.

    Attributes
    ----------
    picture_m : float
        What the pictures of all turns count, likeness, stands that show and a light that
        must be moved included.
    walking_picture_m : float
        The same for the order and starts that walking and waiting alone would choose.
    more_walked_m, more_waiting_minutes : float
        How much farther one walks, in straight lines, and longer one waits than there.
    sentence : str
    """

    picture_m: float
    walking_picture_m: float
    more_walked_m: float
    more_waiting_minutes: float
    sentence: str
