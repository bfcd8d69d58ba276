from .page import sheet_html as sheet_html
from .pdf import sheet_pdf as sheet_pdf
from .writing import write_sheet as write_sheet
