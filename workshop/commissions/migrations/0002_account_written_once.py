"""The database refuses to change or delete a charge or a payment of a commission."""

from django.db import migrations

from workshop.common.triggers import refuse

ONCE = "what was charged and paid is written once"


class Migration(migrations.Migration):
    dependencies = [("commissions", "0001_initial")]
    operations = [
        refuse("commissions_charge", "UPDATE", "commissions_charge_no_update", ONCE),
        refuse("commissions_charge", "DELETE", "commissions_charge_no_delete", ONCE),
        refuse("commissions_commissionpayment", "UPDATE", "commissions_payment_no_update", ONCE),
        refuse("commissions_commissionpayment", "DELETE", "commissions_payment_no_delete", ONCE),
    ]
