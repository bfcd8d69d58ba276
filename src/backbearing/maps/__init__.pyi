from .page import page_html as page_html
from .page import write_page as write_page
