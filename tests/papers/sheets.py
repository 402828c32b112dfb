"""Reading a finished sheet back with other people's tools: size, text, fonts, pictures of its pages, codes in them."""

import io

import pdfplumber
import pikepdf
import pypdfium2
import zxingcpp

MM_PER_PT = 25.4 / 72


def sizes_mm(pdf):
    with pdfplumber.open(io.BytesIO(pdf)) as read:
        return [(float(page.width) * MM_PER_PT, float(page.height) * MM_PER_PT) for page in read.pages]


def texts(pdf):
    """The words of each page, with single blanks and without the invisible places to break."""
    with pdfplumber.open(io.BytesIO(pdf)) as read:
        return [" ".join((page.extract_text() or "").replace("\u200b", "").split()) for page in read.pages]


def least_type_pt(pdf):
    """The size of the smallest letters as printed, from the matrix that sets them (turned letters have it too)."""
    with pdfplumber.open(io.BytesIO(pdf)) as read:
        return min(_type_pt(char) for page in read.pages for char in page.chars if char["text"].strip())


def _type_pt(char):
    # A turned letter's box is as wide as an upright one's is high.
    return char["size"] if char["upright"] else char["x1"] - char["x0"]


def pictures(pdf):
    """Width and height in pixels of each photograph on the pages."""
    with pikepdf.open(io.BytesIO(pdf)) as read:
        things = [thing for thing in read.objects if isinstance(thing, pikepdf.Stream)]
        return [(int(one.Width), int(one.Height)) for one in things if one.get("/Subtype") == "/Image"]


def fonts(pdf):
    """Each font's name, and whether its outlines lie in the file."""
    found = {}
    with pikepdf.open(io.BytesIO(pdf)) as read:
        for thing in read.objects:
            if isinstance(thing, pikepdf.Dictionary) and thing.get("/Type") == "/FontDescriptor":
                inside = any(name in thing for name in ("/FontFile", "/FontFile2", "/FontFile3"))
                found[str(thing["/FontName"])] = inside
    return found


def bare(text):
    """A text without any blanks: readers of PDFs guess where those were."""
    return "".join(text.replace("\u200b", "").split())


def page_image(pdf, page, dpi):
    with pypdfium2.PdfDocument(pdf) as read:
        return read[page].render(scale=dpi / 72).to_pil().convert("L")


def code_on(pdf, page, dpi):
    """What a QR code on the page says; None where there is none."""
    found = zxingcpp.read_barcodes(page_image(pdf, page, dpi), formats=zxingcpp.BarcodeFormat.QRCode)
    return found[0].text if found else None
