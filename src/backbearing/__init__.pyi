__version__: str

from .alignment.night.crossings import crossing_times as crossing_times
from .alignment.night.plan_night import plan_night as plan_night
from .alignment.night.plan_season import plan_season as plan_season
from .alignment.night.prepared_night import PreparedNight as PreparedNight
from .alignment.night.prepared_night import prepare_night as prepare_night
from .alignment.stand.stands import find_stands as find_stands
from .camera.bodies_and_lenses import Camera as Camera
from .camera.bodies_and_lenses import Lens as Lens
from .outing.load import load_outing as load_outing
from .outing.request import Outing as Outing
from .outing.subject import Framing as Framing
from .outing.subject import Subject as Subject
from .plan.plan import Plan as Plan
from .plan.season import Season as Season
from .plan.stand import Stand as Stand
from .review.night import review_frames as review_frames
from .scouting.reading.candidates import read_candidates as read_candidates
from .scouting.run.run import scout as scout
from .sky.darkness import dark_windows as dark_windows
from .sky.directions import direction as direction
from .sky.targets import CORE as CORE
from .sky.targets import Target as Target
from .terrain.elevation import Elevation as Elevation
from .terrain.horizon import Horizon as Horizon
