"""Figures of a test: against published values, hand-made ones, and scipy."""

import random

import pytest
from scipy.stats import pearsonr, pointbiserialr

from widgets.learn import statistics as st

ROWS = [[int(c) for c in row] for row in ("111111", "111110", "111100", "111010", "110100",
                                          "101000", "110000", "010000", "100000", "000000")]
"""Ten invented learners, six items."""
COUNTS = (8, 7, 5, 4, 3, 1)
BISERIAL = (0.627376, 0.642857, 0.763763, 0.757240, 0.785714, 0.581914)
CORRECTED = (0.465130, 0.456357, 0.605405, 0.600099, 0.654654, 0.457355)
"""Reckoned with numpy and scipy (`pointbiserialr`), apart from this code."""


def test_kr20_has_the_variance_with_divisor_n():
    """0.785714 by Kuder and Richardson, Psychometrika 2, 1937 (from memory); with n − 1 it would be 0.8271."""
    assert st.kr20(ROWS) == pytest.approx(0.785714, abs=1e-6)
    assert st.error_of_measurement(ROWS) == pytest.approx(0.848528, abs=1e-6)


def test_questions_of_ten_learners_are_as_reckoned_elsewhere():
    """Difficulty, point-biserial, and corrected for the question itself."""
    found = st.questions(ROWS)
    assert tuple(one.right for one in found) == COUNTS
    assert [one.discrimination for one in found] == pytest.approx(BISERIAL, abs=1e-6)
    assert [one.corrected for one in found] == pytest.approx(CORRECTED, abs=1e-6)


@pytest.mark.parametrize("seed", range(20))
def test_point_biserial_is_that_of_scipy_and_kr20_is_cronbachs_alpha(seed):
    """On classes made by chance: scipy's pointbiserialr; alpha reckoned from variances; corrected by Pearson's r."""
    chance = random.Random(seed)
    rows = [[int(chance.random() < 0.2 + 0.15 * k) for k in range(5)] for _ in range(25)]
    totals = [sum(row) for row in rows]
    found = st.questions(rows)
    for column, one in zip(zip(*rows), found):
        assert one.discrimination == pytest.approx(pointbiserialr(column, totals).statistic)
        assert one.corrected == pytest.approx(pearsonr(column, [t - x for t, x in zip(totals, column)]).statistic)
    alpha = 5 / 4 * (1 - sum(st.spread(column) ** 2 for column in zip(*rows)) / st.spread(totals) ** 2)
    assert st.kr20(rows) == pytest.approx(alpha)


@pytest.mark.parametrize(("right", "of", "low", "high"), [
    (81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)])
def test_wilson_is_as_published(right, of, low, high):
    """Newcombe, Statistics in Medicine 17, 1998 (from memory)."""
    assert st.wilson(right, of) == pytest.approx((low, high), abs=5e-5)


@pytest.mark.parametrize(("right", "of", "low", "high"), [
    (8, 10, 0.49016, 0.94332), (24, 30, 0.62694, 0.90495), (30, 30, 0.88649, 1.0), (40, 50, 0.66963, 0.88756)])
def test_wilson_is_that_of_statsmodels(right, of, low, high):
    """`proportion_confint(…, method='wilson')`, z = 1.96."""
    assert st.wilson(right, of) == pytest.approx((low, high), abs=1e-5)


def test_what_cannot_be_had_is_none_and_never_nought():
    """All alike, one learner, one question: no reliability; a question all had right tells nobody apart."""
    assert st.kr20([[1, 1], [1, 1]]) is None and st.kr20([[1, 0]]) is None and st.kr20([[1], [0]]) is None
    alike, other = st.questions([[1, 1], [1, 0], [1, 0]])
    assert alike.discrimination is None and alike.corrected is None
    assert other.discrimination == pytest.approx(1.0) and other.corrected is None
    with pytest.raises(ValueError):
        st.questions([])
    with pytest.raises(ValueError):
        st.questions([[1], [1, 0]])


@pytest.mark.parametrize(("right", "of", "corrected", "words"), [
    (5, 9, 0.5, "too few"), (0, 30, None, "nobody"), (30, 30, None, "everybody"), (15, 30, -0.5, "better learners"),
    (15, 30, -0.1, "does not go"), (15, 30, 0.1, "tells little"), (4, 30, 0.4, "very hard"), (15, 30, 0.4, "")])
def test_a_remark_says_what_to_look_at(right, of, corrected, words):
    """By how many had it right, and how it goes with the rest."""
    said = st.remark(st.Question(right, of, st.wilson(right, of), corrected, corrected))
    assert words in said and bool(words) == bool(said)


def test_what_kr20_allows_to_be_said():
    """0.7 for a class test, 0.9 for a decision about a person (Nunnally, from memory)."""
    assert [st.trust(v).split(":")[0].split(",")[0] for v in (0.95, 0.8, 0.5, None)] == [
        "enough for a decision about a person", "enough for a class test", "too little to rank learners by this test alone",
        "cannot be had"]
