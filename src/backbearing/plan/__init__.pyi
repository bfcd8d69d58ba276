from .comparison import compare_lenses as compare_lenses
from .crossing import Crossing as Crossing
from .plan import Plan as Plan
from .season import Season as Season
from .stand import Stand as Stand
from .view import View as View
from .year import Year as Year
from .year import YearRule as YearRule
