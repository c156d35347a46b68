"""Rows come in one order on every database: what a model is ordered by never leaves two rows level."""

from django.apps import apps
from django.db.models import Model, UniqueConstraint
from django.db.models.expressions import F
from django.db.models.functions import Lower

OURS = ("studio", "bookings", "tasks")


def unique_sets(model: type[Model]) -> list[set[str]]:
    """The sets of fields of which no two rows share all values; case apart counts as the same."""
    single = [{"pk"}, *({field.name} for field in model._meta.fields if field.unique)]
    whole = [constraint for constraint in model._meta.constraints if isinstance(constraint, UniqueConstraint)]
    several = [
        set(constraint.fields) for constraint in whole if constraint.fields and not constraint.condition
    ]
    folded = [{named(expression) for expression in constraint.expressions} for constraint in whole]
    return [*single, *several, *filter(None, folded)]


def named(expression: object) -> str:
    [inner] = expression.get_source_expressions() if isinstance(expression, Lower) else [expression]
    assert isinstance(inner, F), expression
    return inner.name


def test_no_model_leaves_the_order_of_two_rows_to_the_database() -> None:
    level = []
    for model in apps.get_models():
        if model._meta.app_label not in OURS or not model._meta.ordering:
            continue
        ordered_by = {str(name).lstrip("-").removesuffix("_id") for name in model._meta.ordering}
        if not any(fields <= ordered_by for fields in unique_sets(model)):
            level.append(model.__name__)
    assert level == []
