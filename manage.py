#!/usr/bin/env python3
"""The workshop's one command: `python3 manage.py up` starts the shop, `python3 manage.py test` tries it.

This file must be readable by any Python 3, so that a too-old one gets a sentence instead of a syntax error.
"""

import sys

OLDEST = (3, 11)


def main():
    if sys.version_info < OLDEST:
        sys.exit(
            "The workshop needs Python %d.%d or newer; this is %s. Install a newer Python 3 and call it by its name,"
            " such as: python3.12 manage.py up" % (OLDEST[0], OLDEST[1], sys.version.split()[0])
        )
    from workshop.up import main as run

    return run(sys.argv)


if __name__ == "__main__":
    sys.exit(main())
