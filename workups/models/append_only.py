from typing import Any, NoReturn, TypeVar

from django.db import models


class RowIsAppendOnly(Exception):
    """Somebody tried to change or remove a row of a history that only grows."""


_Row = TypeVar("_Row", bound=models.Model)


class AppendOnlyQuerySet(models.QuerySet[_Row]):
    def update(self, **fields: Any) -> NoReturn:
        raise RowIsAppendOnly

    def delete(self) -> NoReturn:
        raise RowIsAppendOnly


class AppendOnlyModel(models.Model):
    """A row of a history: written once; a correction is a new row that supersedes it.

    The database refuses changes too (`append_only_triggers.py`): a new table of this kind is put
    under guard by its migration.
    """

    objects = AppendOnlyQuerySet.as_manager()

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise RowIsAppendOnly
        # Else a row made up with the key of another one would be written over it.
        super().save(*args, **{**kwargs, "force_insert": True})

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise RowIsAppendOnly
