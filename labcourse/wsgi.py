import os

from django.core.wsgi import get_wsgi_application

from workups.chemistry.compiled import load_all

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labcourse.settings")
application = get_wsgi_application()
# Before the first request: what is compiled is read here.
load_all()
