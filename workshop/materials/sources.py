"""Where the rules of disclosure were read: title and address by key, and the keys that a rule's citation names."""

from __future__ import annotations

import re
from typing import Final

from .reference import Source

ECFR: Final = "https://www.ecfr.gov/current/title-16/chapter-I/subchapter-B/part-23"

SOURCES: Final = {
    "cfr": Source("16 CFR Part 23, Guides for the Jewelry, Precious Metals, and Pewter Industries (2018)", ECFR),
    "cfr1": Source("16 CFR 23.1, deception", ECFR),
    "cfr2": Source("16 CFR 23.2, hand-made", ECFR),
    "cfr18": Source("16 CFR 23.18, weight", ECFR),
    "cfr24": Source("16 CFR 23.24, treatments", ECFR),
    "cfr25": Source("16 CFR 23.25, names of gems", "https://www.lexfed.com/cfr/16/i/b/23/23-25"),
    "selflaw25": Source("16 CFR 23.25, notes", "https://self-law.org/code/us/cfr/t16/s%C2%A7%2023.25"),
    "cfr26": Source("16 CFR 23.26, varietal names",
                    "https://lexbuild.dev/ecfr/title-16/chapter-I/part-23/section-23.26"),
    "cfr27": Source("16 CFR 23.27, real, genuine, natural",
                    "https://lexbuild.dev/ecfr/title-16/chapter-I/part-23/section-23.27"),
    "cfr28": Source("16 CFR 23.28, flawless, perfect",
                    "https://lexbuild.dev/ecfr/title-16/chapter-I/part-23/section-23.28"),
    "cfr260": Source("16 CFR Part 260, Green Guides (report)",
                     "https://jckonline.com/editorial-article/ftc-attorney-lab-grown-letters"),
    "jck2018": Source("FTC issues new guides for the jewelry industry (report)",
                      "https://fashinnovation.com/ftc-issues-new-guides-jewelry-industry/"),
    "fr2": Source("Décret 2002-65, art. 2", "https://www.doctrine.fr/l/texts/decrets/JORFTEXT000000593364"),
    "fr3": Source("Décret 2002-65, art. 3",
                  "https://www.legifrance.gouv.fr/loda/article_lc/LEGIARTI000006207477/2002-02-01"),
    "fr4": Source("Décret 2002-65, art. 4", "https://www.doctrine.fr/l/texts/decrets/JORFTEXT000000593364"),
    "fr5": Source("Décret 2002-65, art. 5 (quoted)",
                  "https://cristauxmadagascar.blogspot.com/2015/01/pierres-precieuses-ou-pierres-fines.html"),
    "cibjo": Source("Nomenclature in the gem industry (CIBJO classes)",
                    "https://deutsches-edelsteinhaus.com/en/nomenclature-in-the-gem-industry/"),
    "cibjo2017": Source("CIBJO coloured stone special report 2017",
                        "https://gems2jewellery.com/cibjo-releases-coloured-stone-special-report"),
    "cibjo_dos": Source("CIBJO, the do's and don'ts", "https://www.readkong.com/page/the-do-s-and-don-ts-3486840"),
    "lmhc2018": Source("LMHC progress of harmonisation (2018)",
                       "http://tnjcolors.com/HTML/LMHC_progress_harmonisation.html"),
    "lmhc2022": Source("LMHC advances harmonisation of laboratory reports (2022)",
                       "https://gjepc.org/news_detail.php?news=lmhc-advances-harmonisation-of-lab-reports-language-"
                       "corundum-treatment-detection-1"),
    "ssef": Source("SSEF, emeralds and the saga of cleaning and filling fissures",
                   "https://www.ssef.ch/emeralds-and-the-saga-of-cleaning-and-filling-fissures/"),
    "jck_pad": Source("Labs define padparadscha", "https://www.jckonline.com/magazine-article/labs-define-padparadscha/"),
    "jck_paraiba": Source("New paraíba reports",
                          "https://www.jckonline.com/editorial-article/agta-gtcs-new-paraba-reports/"),
    "gia_report": Source("GIA lab report terminology (discussion)",
                         "https://orchid.ganoksin.com/t/gia-lab-report-terminology/44694"),
    "igl": Source("IGL, coloured stones", "https://igl.org.cn/html/Answer/colored_stones/index.html"),
    "cdn": Source("Canadian Diamond Code of Conduct", "https://www.canadiandiamondcodeofconduct.ca/EN-the-code.php"),
    "jcrs": Source("A report is not an appraisal", "http://jcrs.com/newsletters/2002/2002_03.htm"),
    "codes": Source("Gemstone enhancements (list of the AGTA manual)",
                    "https://raleydesignstudios.com/pages/gemstone-enhancements"),
    "gemsoc": Source("Gemstone treatment codes", "https://www.gemsociety.org/article/gemstone-treatment-codes/"),
    "jck2019": Source("FTC attorney on lab-grown letters",
                      "https://jckonline.com/editorial-article/ftc-attorney-lab-grown-letters"),
    "nrc": Source("NRC licences for irradiated stones",
                  "http://alphaimports.com/nrc-issues-distribution-licenses-for-irradiated-gemstones-a-186.html"),
}  # fmt: skip
"""Laws were read in stored copies; the official address stands where there is one. Local law comes first."""

_CITED: Final = (
    (r"16 CFR 23\.1\b", ["cfr1"]), (r"16 CFR 23\.2\b", ["cfr2"]), (r"23\.18", ["cfr18"]), (r"23\.24", ["cfr24"]),
    (r"23\.25", ["cfr25"]), (r"23\.26", ["cfr26"]), (r"23\.27", ["cfr27"]), (r"23\.28", ["cfr28"]),
    (r"16 CFR 260", ["cfr260"]), (r"decree 2002-65 art\. [12]\b|France:", ["fr2"]), (r"art\. 1-4|art\. 4", ["fr4"]),
    (r"art\. 3\b", ["fr3"]), (r"art\. 5", ["fr5"]), (r"CIBJO", ["cibjo"]), (r"LMHC 2022", ["lmhc2022"]),
    (r"LMHC (?:information|wording)", ["lmhc2018"]), (r"NRC", ["nrc"]), (r"AGTA", ["codes"]),
)  # fmt: skip


def cited(rule: str) -> list[Source]:
    """The sources a rule's citation names; none for the house's own.

    >>> [source.title for source in cited("16 CFR 23.25(a)-(b), 23.27; decree 2002-65 art. 4")][:2]
    ['16 CFR 23.25, names of gems', '16 CFR 23.27, real, genuine, natural']
    """
    keys = [key for words, keys in _CITED if re.search(words, rule) for key in keys]
    return [SOURCES[key] for key in dict.fromkeys(keys)]
