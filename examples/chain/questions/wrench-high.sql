-- Which instrument reads high, or low, against the others?
-- A reading is compared with what others read at the same reading, in the same round, of the same variant: compared by the step
-- alone, every instrument seems off that happens to be used on another family. What counts is an instrument's stated accuracy:
-- off is one whose mean lies beyond it for certain. One value a job, since readings of a job hang together.
-- A wrench is set, not read: where nobody ever reads anything but what was to be set, nothing is shown of it.
-- Needs three instruments or more with the same readings. Interval: Student's t, 95 % for all instruments together (Bonferroni).
WITH reading AS (
    SELECT r.shop, r.instrument, r.job_key, j.family, COALESCE(j.variant, '') AS variant, r.name,
        COALESCE(r.round, 0) AS in_round, COALESCE(r.item, '') AS at_item, r.quantity, r.si, r.accuracy
    FROM readings r JOIN jobs j ON j.job_key = r.job_key AND j.shop = r.shop
    WHERE r.counts AND r.instrument IS NOT NULL AND r.accuracy > 0 AND r.si IS NOT NULL
),
own AS (
    SELECT shop, instrument, family, variant, name, in_round, at_item, quantity, SUM(si) AS total, COUNT(*) AS n
    FROM reading GROUP BY shop, instrument, family, variant, name, in_round, at_item, quantity
),
-- The middle of what the other instruments come to, each counted once: one that is far off moves it little.
others AS (
    SELECT o.shop, o.instrument, o.family, o.variant, o.name, o.in_round, o.at_item, o.quantity,
        MEDIAN(p.total / p.n) AS middle, CAST(COUNT(*) AS DOUBLE) AS k
    FROM own o JOIN own p ON p.family = o.family AND p.variant = o.variant AND p.name = o.name AND p.in_round = o.in_round
        AND p.at_item = o.at_item AND p.quantity = o.quantity AND (p.shop <> o.shop OR p.instrument <> o.instrument)
    WHERE p.n >= 5
    GROUP BY o.shop, o.instrument, o.family, o.variant, o.name, o.in_round, o.at_item, o.quantity
    -- Of two that differ nobody can say which one is off.
    HAVING COUNT(*) >= 2
),
-- How far a job's readings lie from that, in units of the stated accuracy.
of_job AS (
    SELECT r.shop, r.instrument, r.job_key, AVG((r.si - o.middle) / r.accuracy) AS off, MIN(o.k) AS k
    FROM reading r JOIN others o ON o.shop = r.shop AND o.instrument = r.instrument AND o.family = r.family
        AND o.variant = r.variant AND o.name = r.name AND o.in_round = r.in_round AND o.at_item = r.at_item
        AND o.quantity = r.quantity
    GROUP BY r.shop, r.instrument, r.job_key
),
mean AS (
    SELECT shop, instrument, COUNT(*) AS n, AVG(off) AS off, COUNT(*) - 1.0 AS f,
        -- The middle of k others is known no better than one of them: the variance of a median is about pi / 2k of theirs.
        STDDEV_SAMP(off) / SQRT(COUNT(*)) * SQRT(1 + 1.5708 / MIN(k)) AS error
    FROM of_job GROUP BY shop, instrument HAVING COUNT(*) >= 5
),
-- Quantile of the normal distribution: Abramowitz and Stegun 26.2.23; of Student's t from it: 26.7.5.
tail AS (SELECT SQRT(-2 * LN(0.025 / COUNT(*))) AS u, COUNT(*) AS compared FROM mean),
normal AS (
    SELECT u - (2.515517 + 0.802853 * u + 0.010328 * u * u) / (1 + 1.432788 * u + 0.189269 * u * u + 0.001308 * u * u * u) AS z, compared
    FROM tail
),
spread AS (
    SELECT m.*, compared,
        error * (z + (z * z * z + z) / (4 * f) + (5 * POWER(z, 5) + 16 * z * z * z + 3 * z) / (96 * f * f)) AS half
    FROM mean m CROSS JOIN normal
)
SELECT shop, instrument, n AS jobs, off AS mean_in_accuracies, off - half AS lowest, off + half AS highest, compared,
    CASE WHEN half < 0.000001 THEN 'set, not read: not shown'
        WHEN off - half > 1 THEN 'reads high'
        WHEN off + half < -1 THEN 'reads low'
        WHEN off - half > -1 AND off + half < 1 THEN 'within its accuracy'
        ELSE 'not shown' END AS verdict
FROM spread
ORDER BY shop, instrument
