from django.forms.renderers import TemplatesSetting


class LabcourseRenderer(TemplatesSetting):
    """Form fields are drawn by our own template, with label, help and error tied together."""

    field_template_name = "_field.html"
