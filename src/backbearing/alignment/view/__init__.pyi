from .view import views as views
