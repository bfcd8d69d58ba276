from .formats import export_plan as export_plan
