-- Whose readings are too round?
-- A last digit of 0 or 5 stands behind two in ten readings that were really read, and more where a scale has such steps. So whoever
-- is asked about is compared with all others at the same readings, written as finely as anybody wrote them.
-- Interval: Wilson's for a share, 95 % for all people together (Bonferroni). Round is no proof: it says where to look.
WITH reading AS (
    SELECT r.shop, e.person, r.name, COALESCE(r.unit, '') AS unit, r.written, r.decimals
    FROM readings r JOIN entries e ON e.job_key = r.job_key AND e.seq = r.seq AND e.shop = r.shop
    WHERE r.written IS NOT NULL AND r.instrument IS NOT NULL AND r.taken_from IS NULL AND e.person IS NOT NULL
),
finest AS (SELECT name, unit, MAX(decimals) AS decimals FROM reading GROUP BY name, unit),
marked AS (
    SELECT r.shop, r.person, r.name, r.unit,
        CASE WHEN ABS(r.written * POWER(10, f.decimals) / 5 - ROUND(r.written * POWER(10, f.decimals) / 5, 0)) < 0.000001
            THEN 1 ELSE 0 END AS is_round
    FROM reading r JOIN finest f ON f.name = r.name AND f.unit = r.unit
),
own AS (SELECT shop, person, name, unit, SUM(is_round) AS k, COUNT(*) AS n FROM marked GROUP BY shop, person, name, unit),
everybody AS (SELECT name, unit, SUM(k) AS k, SUM(n) AS n FROM own GROUP BY name, unit),
person AS (
    SELECT o.shop, o.person, CAST(SUM(o.k) AS DOUBLE) AS k, CAST(SUM(o.n) AS DOUBLE) AS n,
        SUM(o.n * CAST(e.k - o.k AS DOUBLE) / (e.n - o.n)) / SUM(o.n) AS of_others
    FROM own o JOIN everybody e ON e.name = o.name AND e.unit = o.unit
    WHERE e.n - o.n >= 10
    GROUP BY o.shop, o.person HAVING SUM(o.n) >= 20
),
-- Quantile of the normal distribution: Abramowitz and Stegun 26.2.23.
tail AS (SELECT SQRT(-2 * LN(0.025 / COUNT(*))) AS u, COUNT(*) AS compared FROM person),
normal AS (
    SELECT u - (2.515517 + 0.802853 * u + 0.010328 * u * u) / (1 + 1.432788 * u + 0.189269 * u * u + 0.001308 * u * u * u) AS z, compared
    FROM tail
),
spread AS (
    SELECT p.*, compared, (k / n + z * z / (2 * n)) / (1 + z * z / n) AS middle,
        z / (1 + z * z / n) * SQRT(k / n * (1 - k / n) / n + z * z / (4 * n * n)) AS half
    FROM person p CROSS JOIN normal
)
SELECT shop, person, n AS readings, k / n AS share, middle - half AS lowest, middle + half AS highest, of_others, compared,
    CASE WHEN middle - half > of_others THEN 'rounder than the others' ELSE 'not shown' END AS verdict
FROM spread
ORDER BY shop, person
