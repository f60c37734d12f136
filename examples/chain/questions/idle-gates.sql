-- Which gates never stop anything?
-- A gate that stopped nobody may be one that nobody needs, or one that everybody heeds beforehand: how often it might stop at most says
-- whether there is anything to ask. Interval: exact for none in n (Clopper and Pearson), Wilson's otherwise; 95 % for all gates
-- together (Bonferroni).
WITH gate AS (
    SELECT j.procedure, COALESCE(j.version, '') AS version, v.step, COUNT(*) AS judged, COUNT(DISTINCT v.job_key) AS jobs,
        CAST(SUM(CASE WHEN v.verdict = 'met' THEN 0 ELSE 1 END) AS DOUBLE) AS stopped, CAST(COUNT(*) AS DOUBLE) AS n
    FROM verdicts v JOIN jobs j ON j.job_key = v.job_key AND j.shop = v.shop
    GROUP BY j.procedure, COALESCE(j.version, ''), v.step
),
-- Quantile of the normal distribution: Abramowitz and Stegun 26.2.23.
tail AS (SELECT 0.05 / COUNT(*) AS alpha, SQRT(-2 * LN(0.025 / COUNT(*))) AS u, COUNT(*) AS compared FROM gate),
normal AS (
    SELECT alpha, u - (2.515517 + 0.802853 * u + 0.010328 * u * u) / (1 + 1.432788 * u + 0.189269 * u * u + 0.001308 * u * u * u) AS z,
        compared
    FROM tail
),
spread AS (
    SELECT g.*, compared, alpha, stopped / n AS share, (stopped / n + z * z / (2 * n)) / (1 + z * z / n) AS middle,
        z / (1 + z * z / n) * SQRT(stopped / n * (1 - stopped / n) / n + z * z / (4 * n * n)) AS half
    FROM gate g CROSS JOIN normal
)
SELECT procedure, version, step, jobs, judged, stopped, share,
    CASE WHEN stopped = 0 THEN 0 ELSE middle - half END AS lowest,
    CASE WHEN stopped = 0 THEN 1 - POWER(alpha, 1 / n) ELSE middle + half END AS highest, compared,
    CASE WHEN stopped > 0 THEN 'stops'
        WHEN 1 - POWER(alpha, 1 / n) < 0.01 THEN 'stops less than 1 in 100'
        ELSE 'not shown' END AS verdict
FROM spread
ORDER BY stopped, procedure, version, step
