from ..workflows.write_all import write_previews as write_previews
from .preview import preview_sheet as preview_sheet
from .preview import side_by_side_sheet as side_by_side_sheet
from .preview import write_sheet as write_sheet
from .skyline_picture import draw_skyline as draw_skyline
from .skyline_picture import ridge_picture as ridge_picture
