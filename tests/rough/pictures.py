"""Pictures and files made on the spot, good and bad."""

import io
import struct
import zlib

from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

# Latitude 46° 30', longitude 7° 15': the tags a telephone writes (EXIF 2.32, GPS IFD).
GPS = {1: "N", 2: (46.0, 30.0, 0.0), 3: "E", 4: (7.0, 15.0, 0.0)}


def jpeg(name="rough.jpg", *, size=(320, 240), colour=(20, 90, 60), gps=False):
    out = io.BytesIO()
    exif = Image.Exif()
    if gps:
        exif.get_ifd(0x8825).update(GPS)
        exif[0x010F] = "Telephone"
    Image.new("RGB", size, colour).save(out, "JPEG", exif=exif)
    return SimpleUploadedFile(name, out.getvalue(), "image/jpeg")


def bomb(name="bomb.png", *, width=20_000, height=10_000):
    """200 megapixels of nothing in a few kilobytes: a PNG whose head is true and whose body is never read."""

    def chunk(kind, body):
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    body = zlib.compress(bytes(width + 1) * 64)
    content = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")
    return SimpleUploadedFile(name, content, "image/png")


def large(name="large.jpg", *, megabytes=30):
    return SimpleUploadedFile(name, jpeg().read() + bytes(megabytes * 1024 * 1024), "image/jpeg")


def not_a_picture(name="rough.jpg"):
    return SimpleUploadedFile(name, b"%PDF-1.7 not a picture at all", "image/jpeg")
