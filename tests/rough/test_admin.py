"""The admin pages of people, materials and rough look only."""

import pytest
from django.contrib import admin
from django.urls import reverse

from tests.makers import make_contact, make_lot, make_owner, make_shop
from workshop.common.looking import LookOnly
from workshop.materials.models import Material, Treatment
from workshop.people.models import Contact
from workshop.rough.models import (
    Draw,
    LotCost,
    LotDocument,
    LotLoss,
    LotPhoto,
    LotStatement,
    RoughLot,
    SortGroup,
)

pytestmark = pytest.mark.django_db
LOOKED_AT = [
    Contact, Material, Treatment, RoughLot, LotCost, SortGroup, Draw, LotLoss, LotStatement, LotPhoto, LotDocument,
]  # fmt: skip


@pytest.mark.parametrize("model", LOOKED_AT)
def test_rows_are_looked_at_and_nothing_more(client, model):
    make_shop()
    make_lot(seller=make_contact(), price_basis="lot", unit_price=5)
    client.force_login(make_owner(is_staff=True, is_superuser=True))
    assert isinstance(admin.site.get_model_admin(model), LookOnly)
    name = f"admin:{model._meta.app_label}_{model._meta.model_name}"
    assert client.get(reverse(f"{name}_changelist")).status_code == 200
    assert client.get(reverse(f"{name}_add")).status_code == 403
    row = model.objects.first()
    if row is not None:
        assert client.get(reverse(f"{name}_change", args=[row.pk])).status_code == 200
        assert client.post(reverse(f"{name}_change", args=[row.pk]), {}).status_code == 403
        assert client.post(reverse(f"{name}_delete", args=[row.pk]), {"post": "yes"}).status_code == 403
        assert model.objects.filter(pk=row.pk).exists()
