from ..workflows.printed_sheet import card_pdf as card_pdf
from ..workflows.printed_sheet import sheet_html as sheet_html
from ..workflows.printed_sheet import sheet_pdf as sheet_pdf
from ..workflows.printed_sheet import write_sheet as write_sheet
