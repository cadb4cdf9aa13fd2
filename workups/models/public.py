import uuid

from django.db import models


class PublicIdModel(models.Model):
    """A row that has a page: URLs carry `public_id`, which cannot be guessed, never the key."""

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)

    class Meta:
        abstract = True
