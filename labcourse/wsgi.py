import os
from importlib import import_module

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labcourse.settings")
application = get_wsgi_application()
# Before the first request: what is compiled is read here.
import_module("workups.chemistry.run")
