from ..workflows.plan_page import page_html as page_html
from ..workflows.plan_page import write_page as write_page
