from .lens_views import views as views
