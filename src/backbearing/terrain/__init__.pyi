from .elevation import Elevation as Elevation
from .grid import Bounds as Bounds
from .grid import Grid as Grid
from .horizon import Horizon as Horizon
from .reading.sources import Ground as Ground
from .reading.sources import TerrainWarning as TerrainWarning
from .skylines import Skylines as Skylines
