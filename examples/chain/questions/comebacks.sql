-- Which jobs come back, by how their gates ended?
-- The same subject again in the same shop within 90 days after a job was begun. Only jobs that have been over for so long count, up to the
-- last day that the shop has in the archive. Interval: Wilson's for a share, 95 % for all kinds together (Bonferroni).
WITH ended AS (
    SELECT job_key, shop, MAX(CASE WHEN standing AND NOT accepted AND verdict <> 'met' THEN 2 WHEN accepted THEN 1 ELSE 0 END) AS worst
    FROM verdicts GROUP BY job_key, shop
),
last_day AS (SELECT shop, MAX(begun_day) AS last_day FROM jobs GROUP BY shop),
job AS (
    SELECT j.job_key, j.shop, j.subject, j.begun, j.begun_day,
        CASE COALESCE(e.worst, 0) WHEN 0 THEN 'all met' WHEN 1 THEN 'something accepted' ELSE 'something not met or not shown' END AS gates
    FROM jobs j LEFT JOIN ended e ON e.job_key = j.job_key AND e.shop = j.shop
    JOIN last_day l ON l.shop = j.shop
    WHERE j.subject IS NOT NULL AND j.begun_day + 90 <= l.last_day
),
back AS (
    SELECT a.job_key, a.shop, a.gates, MAX(CASE WHEN b.job_key IS NULL THEN 0 ELSE 1 END) AS came_back
    FROM job a LEFT JOIN jobs b ON b.shop = a.shop AND b.subject = a.subject AND b.job_key <> a.job_key
        AND b.begun > a.begun AND b.begun_day <= a.begun_day + 90
    GROUP BY a.job_key, a.shop, a.gates
),
kind AS (SELECT gates, CAST(SUM(came_back) AS DOUBLE) AS k, CAST(COUNT(*) AS DOUBLE) AS n FROM back GROUP BY gates),
-- Quantile of the normal distribution: Abramowitz and Stegun 26.2.23.
tail AS (SELECT SQRT(-2 * LN(0.025 / COUNT(*))) AS u, COUNT(*) AS compared FROM kind),
normal AS (
    SELECT u - (2.515517 + 0.802853 * u + 0.010328 * u * u) / (1 + 1.432788 * u + 0.189269 * u * u + 0.001308 * u * u * u) AS z, compared
    FROM tail
),
spread AS (
    SELECT c.*, compared, (k / n + z * z / (2 * n)) / (1 + z * z / n) AS middle,
        z / (1 + z * z / n) * SQRT(k / n * (1 - k / n) / n + z * z / (4 * n * n)) AS half
    FROM kind c CROSS JOIN normal
)
SELECT gates, n AS jobs, k AS came_back, k / n AS share, middle - half AS lowest, middle + half AS highest, compared,
    CASE WHEN middle - half > MIN(middle + half) OVER () THEN 'more than another'
        WHEN middle + half < MAX(middle - half) OVER () THEN 'less than another'
        ELSE 'not shown' END AS verdict
FROM spread
ORDER BY gates
