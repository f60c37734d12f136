-- Which family needs more litres than its data say?
-- What stayed in (`net_fill`) against the service fill that the calculations of the same job were given. Only jobs that are closed.
-- Interval: Student's t, 95 % for all variants together (Bonferroni).
WITH of_job AS (
    SELECT j.family, COALESCE(j.variant, '') AS variant, j.job_key, j.shop,
        MAX(CASE WHEN c.name = 'net_fill' AND NOT c.input THEN c.seq END) AS net_at,
        MAX(CASE WHEN c.name = 'service.low' AND c.input THEN c.si END) AS low,
        MAX(CASE WHEN c.name = 'service.high' AND c.input THEN c.si END) AS high
    FROM jobs j JOIN computed c ON c.job_key = j.job_key AND c.shop = j.shop
    GROUP BY j.family, COALESCE(j.variant, ''), j.job_key, j.shop
),
filled AS (
    SELECT o.family, o.variant, o.low, o.high, c.si AS net
    FROM of_job o JOIN computed c ON c.job_key = o.job_key AND c.shop = o.shop AND c.seq = o.net_at AND c.name = 'net_fill'
    WHERE o.high IS NOT NULL AND c.si IS NOT NULL
),
mean AS (
    SELECT family, variant, low * 1000 AS low_l, high * 1000 AS high_l, COUNT(*) AS n, AVG(net) * 1000 AS net_l,
        STDDEV_SAMP(net) * 1000 / SQRT(COUNT(*)) AS error, COUNT(*) - 1.0 AS f
    FROM filled GROUP BY family, variant, low, high HAVING COUNT(*) >= 5
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
SELECT family, variant, n AS jobs, low_l, high_l, net_l, net_l - half AS lowest, net_l + half AS highest, compared,
    CASE WHEN net_l - half > high_l THEN 'needs more'
        WHEN net_l + half < low_l THEN 'needs less'
        WHEN net_l - half >= low_l AND net_l + half <= high_l THEN 'as its data say'
        ELSE 'not shown' END AS verdict
FROM spread
ORDER BY family, variant, low_l, high_l
