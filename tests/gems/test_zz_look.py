import io, pathlib, pytest
from decimal import Decimal
from PIL import Image, ImageDraw, ImageFilter
from tests import makers
from tests.makers import NOON, make_answered_gem, make_shop, say, make_gem
from workshop.common import photos
from workshop.gems.certificate_actions import issue_certificate
from workshop.gems.papers_certificate import Chosen
from workshop.papers import actions
from workshop.stones.models import StonePhoto
import pypdfium2
pytestmark = pytest.mark.django_db
OUT = pathlib.Path("/tmp/certpng")

def photo(stone, colour, stage="off_dop", caption=""):
    im = Image.new("RGB", (1600, 1200), "#e9e6df")
    d = ImageDraw.Draw(im); d.polygon([(800,150),(1200,300),(1300,600),(1200,900),(800,1050),(400,900),(300,600),(400,300)], fill=colour)
    im = im.filter(ImageFilter.GaussianBlur(6))
    b = io.BytesIO(); im.save(b, "JPEG")
    kept = photos.keep(photos.prepare(b), by=makers.somebody(), at=NOON)
    return StonePhoto.objects.create(stone=stone, photo=kept, stage=stage, caption=caption, at=NOON)

def show(name, paper, size):
    data = bytes(actions.bytes_of(paper, size, at=NOON).pdf)
    (OUT / f"{name}-{size}.pdf").write_bytes(data)
    with pypdfium2.PdfDocument(data) as pdf:
        for n, page in enumerate(pdf):
            page.render(scale=110/72).to_pil().save(OUT / f"{name}-{size}-{n}.png")

def test_plain(db):
    make_shop(name="Wren & Alder", cutter="Oona Alder", address="4 Quay Lane\nPort Ellen", email="oona@wren.example", website="https://wren.example", base_url="https://cards.example", scale_step_ct=Decimal("0.001"), foot_words="Cut one at a time, by the north window.")
    gem = make_answered_gem(cut="brilliant, own design", clarity="eye clean at 30 cm", table_percent=Decimal("56"), crown_angle_deg=Decimal("36"), pavilion_angle_deg=Decimal("42"), facets=89, girdle="fine, even", culet="point")
    gem.trimmed_ct, gem.preform_ct = Decimal("7.412"), Decimal("3.310"); gem.save()
    p = issue_certificate(gem, by=makers.somebody(), at=NOON, chosen=Chosen(weights=("rough","trimmed","preform","finished","recovery")))
    for size in ("a4", "a5", "letter"): show("plain", p, size)

def test_photos(db):
    make_shop(name="Wren & Alder", cutter="Oona Alder", address="4 Quay Lane\nPort Ellen", website="https://wren.example", base_url="https://cards.example")
    gem = make_answered_gem(shape="heart", length_mm=Decimal("7.80"), width_mm=Decimal("8.40"), weight="2.1 ct")
    ps = [photo(gem.stone, c, s, t) for c, s, t in [("#0f8b6a","finished",""),("#1f6b9a","selected","As it came, wet"),("#5f8b2a","off_dop","Side")]]
    p = issue_certificate(gem, by=makers.somebody(), at=NOON, chosen=Chosen(photos=tuple(x.pk for x in ps)))
    for size in ("a4", "a5"): show("photos", p, size)


def test_worst(db):
    shop = make_shop(name="The Workshop of Wrenfield, Alderson, Thistlethwaite & Daughters, Lapidaries", cutter="Oona Alexandrina Featherstonehaugh-Alder", address="4 Quay Lane by the Old Ropewalk\nPort Ellen\nIsle of Nowhere", email="oona@wren.example", website="https://wren.example", base_url="https://cards.example", foot_words="Cut one at a time, by the north window, since the year of the long frost.")
    im = Image.new("RGB", (600, 600), "white"); d = ImageDraw.Draw(im); d.ellipse((40,40,560,560), outline="#0f5b4a", width=24); d.line((300,80,300,520), fill="#0f5b4a", width=20)
    b = io.BytesIO(); im.save(b, "PNG"); shop.mark = photos.keep(photos.prepare(b), by=makers.somebody(), at=NOON); shop.save()
    gem = make_gem(cut="brilliant crown over steps עברית \U0001f48e", colour="כחול ירקרק, bluish green of medium tone, slightly greyish, leaning to blue at the tips", clarity="eye clean at 30 cm; a few fine needles under the table at 10x lens, one small healed fissure near the girdle", shape="triangle", length_mm=Decimal("7.10"), width_mm=Decimal("7.94"), girdle="fine to medium, faceted", culet="point", table_percent=Decimal("61.5"))
    say(gem.stone, "nature", 2, nature="mined", how="invoice 17")
    from workshop.materials.models import Material
    say(gem.stone, "species", 3, material=Material.objects.get(key="tourmaline-elbaite"), said_by="the cutter", how="RI 1.624–1.644, birefringence 0.018, SG 3.06, dichroscope strong")
    say(gem.stone, "treatment", 2, treated="treated", treatments=["heat", "oil", "dye"], how="invoice 17 of the second of March, second page, under remarks")
    ps = [photo(gem.stone, "#0f8b6a", "finished", "Face up in daylight, on grey card, by the north window")]
    p = issue_certificate(gem, by=makers.somebody(), at=NOON, chosen=Chosen(photos=(ps[0].pk,)))
    for size in ("a4", "a5"): show("worst", p, size)


def test_pair(db):
    from workshop.gems.suite_actions import make_suite
    from workshop.gems.certificate_actions import issue_suite_certificate
    make_shop(name="Wren & Alder", cutter="Oona Alder", address="4 Quay Lane\nPort Ellen", base_url="https://cards.example", scale_step_ct=Decimal("0.001"))
    a = make_answered_gem(weight="2.345 ct"); b = make_answered_gem(weight="2.378 ct", length_mm=Decimal("9.18"))
    suite = make_suite([a, b], name="Twin tears", kind="pair", tolerance_mm=Decimal("0.10"), tolerance_ct=Decimal("0.02"), by=makers.somebody(), at=NOON)
    p = issue_suite_certificate(suite, by=makers.somebody(), at=NOON)
    show("pair", p, "a4")
    c = make_answered_gem(weight="1.1 ct", shape="pear", length_mm=Decimal("8"), width_mm=Decimal("5.4"), depth_mm=Decimal("3.9")); say(c.stone, "treatment", 5, treated="treated", treatments=["dye"], said_by="LAB", how="no. 7")
    gems = [c, *[make_answered_gem(weight=f"1.0{n} ct") for n in range(6)]]
    suite = make_suite(gems, name="Seven for a line", kind="suite", by=makers.somebody(), at=NOON)
    p = issue_suite_certificate(suite, by=makers.somebody(), at=NOON)
    show("suite", p, "a4")
