"""What an invented sitting's replays tell, as records keep it; figures are invented."""

from aftersit import findings as find

MOVES_DB = (-3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0)


def expected(together: float, p: float) -> find.Expected:
    return find.Expected(
        reward_share=together - 0.04,
        longest_bout_s=4.75,
        longest_high_s=9.5,
        together_share=together,
        together_low=together - 0.05,
        together_high=together + 0.06,
        p=p,
    )


def chance(n_conditions: int) -> find.Chance:
    several = n_conditions > 1
    return find.Chance(
        reward_share=0.34,
        longest_bout_s=12.25,
        together_share=0.38,
        unrelated=expected(0.22, 0.005) if several else None,
        only_leakage=expected(0.27, 0.015) if several else None,
        baseline=find.InBaseline(block=1, reward_share=0.17, longest_bout_s=2.625),
    )


def advice(names: list[str]) -> find.Advice:
    return find.Advice(
        target_share=0.7,
        refused=(),
        thresholds=tuple(
            find.AdvisedThreshold(
                condition=name,
                stricter_db=-2.0 if k == 0 else -0.75,
                limited=k == 0,
                value=4.1,
                db_over_baseline=-1.0,
                low_db=-1.9,
                high_db=-0.2,
                met_share=0.81,
            )
            for k, name in enumerate(names[:2])
        ),
        expected_share=0.61,
        halves=(0.55, 0.83),
        steady=False,
    )


def insight(names: list[str]) -> find.Insight:
    rates = tuple(0.66 - 0.09 * k for k in range(len(MOVES_DB)))
    return find.Insight(
        chance=chance(len(names)),
        what_if=tuple(
            find.WhatIf(condition=n, stricter_db=MOVES_DB, reward_share=rates) for n in names
        ),
        what_if_both=None,
        advice=advice(names),
        survival=find.Survival(
            bouts=31,
            cut=4,
            median_s=3.5,
            still_on=(
                find.StillOn(length_s=2.0, share=0.74, low=0.55, high=0.86),
                find.StillOn(length_s=10.0, share=0.12, low=None, high=None),
            ),
        ),
        lost=find.LostReward(lost_s=63.5, by_reason_s={"bad-span": 11.25, "muscle": 52.25}),
        agreement=(),
        reward_off=reward_off(names),
    )


def reward_off(names: list[str]) -> find.RewardOff:
    """Theta at the back, and gamma of the first condition's neighbours; alpha was lower."""

    def other(place, band, band_hz, db, heard_by=()):
        return find.HigherWhileOff(
            place=place,
            band=band,
            band_hz=band_hz,
            higher_db=db,
            low_db=db - 0.6,
            high_db=db + 0.6,
            p=0.0002,
            q=0.021,
            heard_by=heard_by,
        )

    return find.RewardOff(
        rewarded_s=176.0,
        unrewarded_s=342.0,
        tested=337,
        left_out=3,
        false_discovery_rate=0.05,
        found=(
            other("precentral-right", "gamma", (30, 45), 1.7, tuple(names[:1])),
            other("cuneus-left", "theta", (4, 8), 1.1),
            other("lingual-left", "theta", (4, 8), 0.9),
            other("cuneus-right", "alpha", (8, 13), -1.2),
        ),
    )


def agreement(replay: str = "uncleaned") -> find.Agreement:
    return find.Agreement(
        replay=replay,
        known_s=512.0,
        logged_share=0.41,
        replayed_share=0.37,
        kappa=0.55,
        lag_s=0.75,
        kappa_at_lag=0.71,
        logged_bouts=29,
        replayed_bouts=33,
        missed_bouts=3,
        extra_bouts=6,
    )
