"""The shop's key, against the test vectors of RFC 8032, section 7.1 <https://www.rfc-editor.org/rfc/rfc8032>."""

import os
import stat
import threading

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from workshop.papers import keys

# Secret, public, message, signature: tests 1 to 3 of RFC 8032, 7.1.
VECTORS = [
    (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e06522490155"
        "5fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b",
    ),
    (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
        "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
    ),
    (
        "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac"
        "18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a",
    ),
]


@pytest.fixture(autouse=True)
def apart(settings, tmp_path):
    settings.WORKSHOP_DATA = tmp_path


@pytest.mark.parametrize(("secret", "public", "message", "signature"), VECTORS)
def test_signatures_are_those_of_the_standard(secret, public, message, signature):
    key = keys.ShopKey(Ed25519PrivateKey.from_private_bytes(bytes.fromhex(secret)), public)
    assert key.sign(bytes.fromhex(message)) == signature
    assert keys.verifies(public, bytes.fromhex(message), signature)


@pytest.mark.parametrize("place", [0, 31, 32, 63])
def test_a_flipped_bit_is_caught(place):
    _, public, message, signature = VECTORS[1]
    flipped = bytearray(bytes.fromhex(signature))
    flipped[place] ^= 1
    assert not keys.verifies(public, bytes.fromhex(message), flipped.hex())
    assert not keys.verifies(public, b"s", signature)


@pytest.mark.parametrize("junk", ["", "zz", "00", "é", "0" * 127])
def test_junk_is_no_signature(junk):
    public = VECTORS[0][1]
    assert not keys.verifies(public, b"", junk)
    assert not keys.verifies(junk, b"", VECTORS[0][3])


def test_the_key_is_made_once_and_read_by_its_owner_alone(tmp_path):
    first = keys.current()
    assert keys.current().public == first.public
    path = tmp_path / "keys" / "papers.pem"
    assert stat.S_IMODE(os.stat(path).st_mode) == 0o600
    assert stat.S_IMODE(os.stat(path.parent).st_mode) == 0o700
    assert [one.name for one in path.parent.iterdir()] == ["papers.pem"]


def test_two_first_papers_at_once_make_one_key():
    made = []
    threads = [threading.Thread(target=lambda: made.append(keys.current().public)) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(made) == 8
    assert len(set(made)) == 1


def test_a_new_key_leaves_what_the_old_one_signed(tmp_path):
    before = keys.current()
    signature = before.sign(b"record")
    old, new = keys.rotate()
    assert old is not None
    assert old.public == before.public != new.public
    assert keys.verifies(before.public, b"record", signature)
    assert not keys.verifies(new.public, b"record", signature)
    assert {path.name for path in (tmp_path / "keys").iterdir()} == {
        "papers.pem",
        f"papers-{before.fingerprint.replace(' ', '')}.pem",
    }


def test_a_damaged_key_stops_rather_than_being_made_anew(tmp_path):
    keys.current()
    (tmp_path / "keys" / "papers.pem").write_text("not a key")
    with pytest.raises(keys.KeyDamaged):
        keys.current()
