from .load import load_outing as load_outing
from .request import Outing as Outing
from .subject import Framing as Framing
from .subject import Subject as Subject
from .write_keys import set_keys as set_keys
