-- How long does each section take, by version of the procedure?
-- Minutes a job from the times of its entries; what lies between a pause and going on is no work and left out. Versions are compared
-- with all others of the same section. Interval: Student's t, 95 % for all rows together (Bonferroni).
WITH of_job AS (
    SELECT j.procedure, COALESCE(j.version, '') AS version, e.section, j.job_key, SUM(e.took) / 60 AS minutes
    FROM entries e JOIN jobs j ON j.job_key = e.job_key AND j.shop = e.shop
    WHERE e.section IS NOT NULL AND e.took IS NOT NULL AND e.event <> 'resumed'
    GROUP BY j.procedure, COALESCE(j.version, ''), e.section, j.job_key
),
mean AS (
    SELECT procedure, version, section, COUNT(*) AS n, AVG(minutes) AS minutes,
        STDDEV_SAMP(minutes) / SQRT(COUNT(*)) AS error, COUNT(*) - 1.0 AS f
    FROM of_job GROUP BY procedure, version, section HAVING COUNT(*) >= 5
),
-- Quantile of the normal distribution: Abramowitz and Stegun 26.2.23; of Student's t from it: 26.7.5.
tail AS (SELECT SQRT(-2 * LN(0.025 / COUNT(*))) AS u, COUNT(*) AS compared FROM mean),
normal AS (
    SELECT u - (2.515517 + 0.802853 * u + 0.010328 * u * u) / (1 + 1.432788 * u + 0.189269 * u * u + 0.001308 * u * u * u) AS z, compared
    FROM tail
),
spread AS (
    SELECT m.*, compared,
        error * (z + (z * z * z + z) / (4 * f) + (5 * POWER(z, 5) + 16 * z * z * z + 3 * z) / (96 * f * f)) AS half,
        MIN(version) OVER (PARTITION BY procedure, section) AS one, MAX(version) OVER (PARTITION BY procedure, section) AS other
    FROM mean m CROSS JOIN normal
)
SELECT procedure, version, section, n AS jobs, minutes, minutes - half AS lowest, minutes + half AS highest, compared,
    CASE WHEN one = other THEN 'one version'
        WHEN minutes - half > MIN(minutes + half) OVER (PARTITION BY procedure, section) THEN 'slower than another'
        WHEN minutes + half < MAX(minutes - half) OVER (PARTITION BY procedure, section) THEN 'quicker than another'
        ELSE 'not shown' END AS verdict
FROM spread
ORDER BY procedure, section, version
