"""A process that issues papers until it is killed; run by test_papers_at_once.py in a data folder of its own.

    python papers_killed.py SEED TIMES

Forks a child that issues and draws papers in a loop, kills it (SIGKILL) at a random moment, and does so TIMES times, two
children at once each time. The parent opens no database, so no child inherits a connection.
"""

import os
import random
import signal
import sys
import time


def issue_for_ever(seed, told):
    import django.db
    from django.utils import timezone

    from tests.papers.documents import a_quote
    from workshop.common.models import Shop
    from workshop.papers import actions
    from workshop.papers.models import OF_ACCOUNT, Paper, PaperKind

    django.db.connections.close_all()
    chance = random.Random(seed)
    shop = Shop.the()
    kinds = [PaperKind.QUOTE, PaperKind.HANDING_OVER, PaperKind.INVOICE]
    while True:
        now = timezone.now()
        content = a_quote(shop, rows=chance.randrange(1, 4)).content()
        what = chance.random()
        standing = Paper.objects.standing().exclude(kind__in=OF_ACCOUNT).order_by("?").first()
        try:
            if what < 0.2 and standing is not None:
                actions.revise(standing, content, reason="new words", by=None, at=now)
            elif what < 0.3 and standing is not None:
                actions.void(standing, reason="a slip", by=None, at=now)
            elif what < 0.4 and standing is not None:
                actions.bytes_of(standing, "a4", at=now)
            elif what < 0.43:
                actions.change_key(reason="a new year", by=None, at=now)
            else:
                actions.issue(chance.choice(kinds), "C-0042", content, by=None, at=now)
        except actions.DeedRefused:
            # The other child was quicker with the same paper.
            continue
        os.write(told, b".")


def main(seed, times):
    import django

    django.setup()
    # Once, before the forks: what takes long to load.
    import weasyprint  # noqa: F401

    import tests.papers.documents  # noqa: F401
    import workshop.urls  # noqa: F401

    chance = random.Random(seed)
    for turn in range(times):
        children = []
        heard, told = os.pipe()
        for number in range(2):
            pid = os.fork()
            if pid == 0:
                try:
                    issue_for_ever(f"{seed} {turn} {number}", told)
                finally:
                    # Whatever went wrong: not back into the parent's loop.
                    import traceback

                    traceback.print_exc()
                    os._exit(3)
            children.append(pid)
        # Not before they are at it, and then at any moment.
        os.close(told)
        if not os.read(heard, 1):
            sys.exit("both children ended before their first deed")
        time.sleep(chance.uniform(0, 0.5))
        for pid in children:
            os.kill(pid, signal.SIGKILL)
        for pid in children:
            _, status = os.waitpid(pid, 0)
            if not os.WIFSIGNALED(status):
                sys.exit("a child ended by itself: it did not issue until it was killed")
        os.close(heard)


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
