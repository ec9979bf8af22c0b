"""Deliberate faults in cleaning, replay statistics, language and archive."""

import numpy as np
from scipy import stats

from aftersit.evidence.fault_parts import returning, scaled, with_argument
from aftersit.evidence.faults import Fault

CLEANING = (
    Fault(
        "nothing-is-bad",
        ("cleaning",),
        "no electrode is ever called bad",
        (
            (
                "aftersit.evidence.checks.cleaning.find_bad_electrodes",
                lambda f: lambda *a: _none_bad(f(*a)),
            ),
        ),
    ),
    Fault(
        "blinks-are-faults",
        ("cleaning",),
        "an electrode with blinks is called noisy",
        (
            (
                "aftersit.evidence.checks.cleaning.find_bad_electrodes",
                lambda f: lambda *a: _also_bad(f(*a), "Fp1"),
            ),
        ),
    ),
    Fault(
        "reference-of-all",
        ("cleaning",),
        "a bad electrode stays in the average reference",
        (("aftersit.clean.run.clean_recording", lambda f: lambda *a: _leaked(f(*a), a[0])),),
    ),
    Fault(
        "mains-from-sheet",
        ("cleaning",),
        "mains is taken from the sheet, not found",
        (("aftersit.clean.mains.find_mains", lambda f: lambda x, y, prior, s: prior),),
    ),
    Fault(
        "wide-notch",
        ("cleaning",),
        "mains is taken out with half of its neighbours",
        (("aftersit.clean.mains.remove_mains", lambda f: lambda x, *a: 0.5 * f(x, *a)),),
    ),
    Fault(
        "few-iterations",
        ("cleaning",),
        "components are not fitted",
        (
            (
                "aftersit.evidence.checks.cleaning.SETTINGS",
                lambda s: s.model_copy(
                    update={"components": s.components.model_copy(update={"max_iterations": 1})}
                ),
            ),
        ),
    ),
    Fault(
        "rank-kept",
        ("cleaning",),
        "the dimension of the reference is not dropped",
        (("aftersit.clean.components.RANK_LIMIT", returning(-1.0)),),
    ),
    Fault(
        "classes-exchanged",
        ("cleaning",),
        "eye and muscle change places among the classes",
        (("aftersit.clean.iclabel.CLASSES", lambda c: (c[0], c[2], c[1], *c[3:])),),
    ),
    Fault(
        "eyes-stay",
        ("cleaning",),
        "components are labelled and left in",
        (
            (
                "aftersit.clean.components._judge",
                lambda f: lambda *a: f(*a).model_copy(update={"removed": False}),
            ),
            (
                "aftersit.clean.components._matrices",
                lambda f: lambda *a: (np.eye(19), np.zeros((19, 19)), np.zeros((19, 19))),
            ),
        ),
    ),
    Fault(
        "drowsy-both-edges",
        ("cleaning",),
        "drowsy signs' alpha begins two hertz higher",
        (("aftersit.clean.drowsy.ALPHA_HZ", returning((10.5, 15.0))),),
    ),
    Fault(
        "theta-anywhere",
        ("cleaning",),
        "theta at Fz alone counts as widespread",
        (("aftersit.clean.drowsy.WIDESPREAD", returning(("Fz",) * 5)),),
    ),
    Fault(
        "yardstick-ten",
        ("cleaning",),
        "the muscle-free level is ten times too high",
        (
            ("aftersit.muscle.yardstick.POWER_UV2", lambda v: 10 * v),
            ("aftersit.muscle.yardstick._DENSITY_AT_40_HZ", lambda v: 10 * v),
        ),
    ),
    Fault(
        "muscle-everywhere",
        ("cleaning",),
        "half of all that is fast is taken for muscle",
        (
            ("aftersit.evidence.checks.muscle.remove_fast_muscle", lambda f: _halved),
            ("aftersit.evidence.checks.muscle.fast_filter", lambda f: lambda p, n: np.eye(n)),
        ),
    ),
    Fault(
        "muscle-stays",
        ("cleaning",),
        "muscle is learnt and left in",
        (("aftersit.evidence.checks.muscle.remove_fast_muscle", returning(None)),),
    ),
    Fault(
        "always-no-sign",
        ("cleaning",),
        "every block shows no sign of muscle",
        (("aftersit.muscle.verdict._verdict", returning(("no-sign-found", ()))),),
    ),
    Fault(
        "learns-below-45",
        ("cleaning",),
        "muscle is learnt where brain and muscle can't be told apart",
        (
            (
                "aftersit.evidence.checks.muscle.upper_ranges",
                returning(((30.0, 38.0), (38.0, 45.0))),
            ),
        ),
    ),
    Fault(
        "passed-amplitude",
        ("cleaning",),
        "what passes is told as amplitude",
        (("aftersit.evidence.checks.muscle.passed_share", lambda f: lambda *a: np.sqrt(f(*a))),),
    ),
    Fault(
        "electrodes-shuffled",
        ("cleaning",),
        "rows of electrodes are exchanged",
        (
            ("aftersit.evidence.checks.muscle.STANDARD_19", lambda n: tuple(reversed(n))),
            ("aftersit.evidence.checks.muscle.band", lambda f: lambda x, *a: f(x[::-1], *a)),
        ),
    ),
)


def _none_bad(found):
    found[0].reasons.clear()
    return found


def _also_bad(found, name: str):
    findings, typical = found
    findings.reasons[name] = ["noisy"]
    return findings, typical


def _leaked(cleaned, raw):
    from dataclasses import replace

    row = raw.get_data(picks=["Fp2"]) * 1e6 / 19
    return replace(cleaned, data_uv=cleaned.data_uv - row[:, : cleaned.data_uv.shape[1]])


def _halved(x, *_):
    x *= 0.5


REPLAY = (
    Fault(
        "any-for-all",
        ("replay",),
        "one condition is enough where all are asked",
        (("aftersit.replay.logic.gate", with_argument(1, lambda n: 1)),),
    ),
    Fault(
        "all-for-any",
        ("replay",),
        "all conditions are asked where one is enough",
        (("aftersit.replay.logic.gate", lambda f: lambda met, n: f(met, len(met))),),
    ),
    Fault(
        "amplitude-decibels",
        ("replay",),
        "decibels are 20 log10 of a ratio of powers",
        (("aftersit.replay.logic.distance_db", scaled(2)),),
    ),
    Fault(
        "eased-when-met",
        ("replay",),
        "an adaptive threshold is eased when it was met",
        (("aftersit.replay.adaptive.adapted", with_argument(3, lambda rate: 1 - rate)),),
    ),
    Fault(
        "threshold-stands",
        ("replay",),
        "an adaptive threshold never moves",
        (("aftersit.replay.adaptive.adapted", with_argument(4, lambda step: 0.0)),),
    ),
    Fault(
        "plain-t-test",
        ("replay",),
        "neighbouring values are taken as independent",
        (("aftersit.insight.longrun.compare", lambda f: _plain),),
    ),
    Fault(
        "few-cosines",
        ("replay",),
        "one cosine too many is left out of the variance",
        (("aftersit.insight.longrun.mean_variance", lambda f: lambda x, n: f(x, n) * n / (n + 1)),),
    ),
    Fault(
        "share-as-normal",
        ("replay",),
        "a share's interval is that of a mean",
        (
            (
                "aftersit.insight.longrun.share_interval",
                lambda f: lambda x, *a: (x.mean() - 0.1, x.mean() + 0.1),
            ),
        ),
    ),
    Fault(
        "cut-is-ended",
        ("replay",),
        "bouts that were cut short count as ended",
        (
            (
                "aftersit.insight.survival.kaplan_meier",
                with_argument(1, lambda ended: np.ones(len(ended), bool)),
            ),
        ),
    ),
    Fault(
        "same-shift",
        ("replay",),
        "all conditions are shifted alike",
        (
            (
                "aftersit.insight.chance._shifted",
                lambda f: lambda v, p, s: f(v, p, s[:, :1] * [[[1], [1]]]),
            ),
        ),
    ),
    Fault(
        "either-for-both",
        ("replay",),
        "chance counts when either condition is met",
        (
            (
                "aftersit.insight.chance._expected",
                lambda f: lambda p, met, t: f(p, met | met[:, ::-1], t),
            ),
        ),
    ),
    Fault(
        "p-of-zero",
        ("replay",),
        "a p value may be zero",
        (
            (
                "aftersit.insight.chance.Expected",
                lambda c: lambda **k: c(**(k | {"p": max(k["p"] - 1 / 60, 0.0)})),
            ),
        ),
    ),
    Fault(
        "too-small-p",
        ("replay",),
        "p values are told ten times too small",
        (
            (
                "aftersit.insight.chance.Expected",
                lambda c: lambda **k: c(**(k | {"p": k["p"] / 10})),
            ),
        ),
    ),
    Fault(
        "bands-all-share",
        ("replay",),
        "leakage counts as if all bands were one",
        (("aftersit.insight.chance.leakage_between", lambda f: lambda conditions, r: r),),
    ),
    Fault(
        "no-onset",
        ("replay",),
        "onset time is not waited for",
        (("aftersit.replay.logic.reward", with_argument(1, lambda steps: 0)),),
    ),
    Fault(
        "no-correction",
        ("replay",),
        "many tests are judged one by one",
        (("aftersit.insight.elsewhere.stats.false_discovery_control", lambda f: lambda p, **k: p),),
    ),
    Fault(
        "leakage-ignored",
        ("replay",),
        "leakage alone is taken for nothing",
        (("aftersit.insight.chance._leaking", lambda f: lambda p, s, r: f(p, s, np.eye(len(r)))),),
    ),
)


def _plain(before, after, *_):
    from aftersit.insight.longrun import Comparison

    test = stats.ttest_ind(after, before, axis=-1)
    ends = test.confidence_interval(0.95)
    change = after.mean(axis=-1) - before.mean(axis=-1)
    return Comparison(change, ends.low, ends.high, test.pvalue)


WORD = "The electroencephalographic interpretation necessitates considerable circumspection. "

LANGUAGE = (
    Fault(
        "grade-constants",
        ("language",),
        "the grade formula has another constant",
        (("aftersit.evidence.readability.kincaid_grade", lambda f: lambda *a: f(*a) + 5),),
    ),
    Fault(
        "hard-words",
        ("language",),
        "sentences for clients become hard to read",
        (("aftersit.evidence.checks.language.filled", lambda f: lambda s: (WORD * 3)[:-1]),),
    ),
    Fault(
        "hard-german",
        ("language",),
        "German sentences become hard to read",
        (
            (
                "aftersit.evidence.checks.language.filled",
                lambda f: (
                    lambda s: (
                        "Aufmerksamkeitsbeeinträchtigungen verursachen "
                        "Interpretationsschwierigkeiten, Wahrnehmungsveränderungen, "
                        "Verständigungsprobleme und Entscheidungsunfähigkeiten überall."
                    )
                ),
            ),
        ),
    ),
    Fault(
        "german-counts",
        ("language",),
        "German syllables are counted double",
        (("aftersit.evidence.readability.syllables_de", scaled(2)),),
    ),
    Fault(
        "long-sentences",
        ("language",),
        "sentences are joined by commas",
        (("aftersit.evidence.checks.language.filled", lambda f: lambda s: f(s).replace(".", ",")),),
    ),
    Fault(
        "a-diagnosis",
        ("language",),
        "a sentence speaks of a diagnosis",
        (
            (
                "aftersit.evidence.checks.language.leaves",
                lambda f: lambda part: [*f(part), "This is your diagnosis."],
            ),
        ),
    ),
    Fault(
        "cautions-lost",
        ("language",),
        "the cautions are left out",
        (("aftersit.pages.words.Words.cautions", lambda p: ()),),
    ),
    Fault(
        "knee-lost",
        ("language",),
        "contrast is taken without the curve of screens",
        (
            (
                "aftersit.evidence.contrast.luminance",
                lambda f: lambda c: sum(int(c[i : i + 2], 16) for i in (1, 3, 5)) / 765,
            ),
        ),
    ),
    Fault(
        "pale-text",
        ("language",),
        "text is pale",
        (("aftersit.pages.style.tokens", lambda f: lambda: f() | {"quiet": "#9aa3b0"}),),
    ),
    Fault(
        "unescaped",
        ("language",),
        "text from outside is not escaped",
        (("aftersit.pages.template.environment", lambda f: lambda: f().overlay(autoescape=False)),),
    ),
    Fault(
        "no-language",
        ("language",),
        "pages and PDFs have no language and no header cells",
        (
            ("aftersit.pages.template.render", lambda f: lambda *a, **k: _bare(f(*a, **k))),
            ("aftersit.evidence.page.render", lambda f: lambda *a, **k: _bare(f(*a, **k))),
        ),
    ),
    Fault(
        "plain-pdf",
        ("language",),
        "PDFs are not tagged",
        (("aftersit.pages.pdf.VARIANT", returning(None)),),
    ),
    Fault(
        "dated-pdf",
        ("language",),
        "PDFs hold the time at which they were made",
        (("aftersit.pages.pdf.html_to_pdf", lambda f: lambda *a: _dated(f(*a))),),
    ),
)


def _bare(page: str) -> str:
    return page.replace(' lang="en"', "").replace(' scope="col"', "")


_COUNT = iter(range(10**6))


def _dated(data: bytes) -> bytes:
    return data + b"%% /CreationDate %d" % next(_COUNT)


ARCHIVE = (
    Fault(
        "other-checksum",
        ("archive",),
        "checksums skip the last byte",
        (("aftersit.evidence.checks.archive.sha256", lambda f: _short_sum),),
    ),
    Fault(
        "header-kept",
        ("archive", "bids"),
        "the file's patient field is copied along",
        (
            (
                "aftersit.bids.write.channels_tsv",
                lambda f: lambda r: f(r) + "Haagse_Harry MCH-0234567 1951-05-02\n",
            ),
        ),
    ),
    Fault(
        "notes-kept",
        ("archive", "bids"),
        "private notes and ages over 89 are copied along",
        (
            (
                "aftersit.bids.write.eeg_json",
                lambda f: lambda *a: f(*a) | {"Notes": "private-notes\t93\t"},
            ),
        ),
    ),
    Fault(
        "a-clock-inside",
        ("archive",),
        "the time of writing stands in a file",
        (("aftersit.bids.write.eeg_json", lambda f: lambda *a: f(*a) | {"Written": next(_COUNT)}),),
    ),
    Fault(
        "real-address",
        ("archive",),
        "the demo clinic has an address that somebody may own",
        (
            (
                "demo_clinic.papers.as_yaml",
                lambda f: lambda x: f(x).replace("example.org", "clinic.net"),
            ),
        ),
    ),
)


def _short_sum(paths) -> str:
    import hashlib

    return hashlib.sha256(b"".join(p.read_bytes() for p in paths)[:-1]).hexdigest()
