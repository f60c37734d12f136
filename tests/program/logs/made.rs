//! The logs in `examples/logs/`: invented warm-ups, each written as some reader writes. The same seed gives the same bytes.

/// Seed of every log; its name is mixed in.
const SEED: u64 = 20_261_105;

/// A small generator of its own, so that no library's next version changes the examples (splitmix64, by Steele, Lea and
/// Flood 2014, from memory).
struct Dice(u64);

impl Dice {
    fn new(name: &str) -> Self {
        Self(name.bytes().fold(SEED, |seed, byte| seed.wrapping_mul(1_099_511_628_211) ^ u64::from(byte)))
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^ (mixed >> 31)
    }

    /// Between -1 and 1.
    fn even(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 52) as f64 - 1.0
    }
}

/// One moment of the story that most logs tell: the engine starts at 60 s, the selector is cycled from 120 s, the opening is
/// open from 700 s to 820 s, the road test lasts from 960 s to 1140 s.
#[derive(Clone, Copy)]
struct Moment {
    at: f64,
    sump: f64,
    bay: f64,
    coolant: f64,
    speed: f64,
    lever: &'static str,
}

struct Story {
    starts_at: f64,
    stay: f64,
    lever: [&'static str; 5],
    high_idle: bool,
}

const STORY: Story = Story { starts_at: 36.5, stay: 8.0, lever: ["P", "R", "N", "D", "M"], high_idle: false };

impl Story {
    fn at(&self, at: f64, dice: &mut Dice) -> Moment {
        let running = at >= 60.0;
        let warmed = (at - 60.0).max(0.0);
        let driving = (960.0..1140.0).contains(&at);
        // Warms by a fortieth of a degree a second, faster on the road; no source, only to look like a warm-up.
        let road = (at.min(1140.0) - 960.0).max(0.0) * 0.12;
        let sump = self.starts_at + warmed * 0.026 + road + 0.04 * dice.even();
        let coolant = 33.0 + 57.0 * (1.0 - (-warmed / 260.0).exp()) + 0.1 * dice.even();
        let idle = if self.high_idle && at > 600.0 { 1150.0 } else { 720.0 };
        let speed = match (running, driving) {
            (false, _) => 0.0,
            (true, true) => 1900.0 + 300.0 * dice.even(),
            (true, false) => idle + 12.0 * dice.even(),
        };
        let step = ((at - 120.0) / self.stay).floor();
        let lever = if (0.0..5.0).contains(&step) {
            self.lever[step as usize]
        } else if driving {
            self.lever[3]
        } else {
            self.lever[0]
        };
        Moment { at, sump, bay: 19.0 + 0.05 * dice.even(), coolant, speed: speed.round(), lever }
    }

    fn moments(&self, from: f64, to: f64, step: f64, dice: &mut Dice) -> Vec<Moment> {
        let count = ((to - from) / step).round() as usize;
        (0..count).map(|index| self.at(from + index as f64 * step, dice)).collect()
    }
}

fn clock(seconds: f64) -> String {
    let whole = seconds.rem_euclid(86_400.0);
    let (hours, minutes) = ((whole / 3600.0).floor(), (whole / 60.0).floor() % 60.0);
    format!("{hours:02}:{minutes:02}:{:02}", (whole % 60.0).floor())
}

fn comma(value: f64, digits: usize) -> String {
    format!("{value:.digits$}").replace('.', ",")
}

fn fahrenheit(celsius: f64) -> f64 {
    celsius * 1.8 + 32.0
}

const QUARTER_PAST_EIGHT: f64 = 8.0 * 3600.0 + 15.0 * 60.0;

fn lines(rows: impl IntoIterator<Item = String>) -> String {
    rows.into_iter().map(|row| row + "\n").collect()
}

/// Comma, decimal point, ISO 8601, all columns.
fn plain() -> Vec<u8> {
    let mut dice = Dice::new("plain");
    let head = "timestamp,Sump temp [°C],Bay temp [°C],Coolant temp [°C],Engine speed [rpm],Selector".to_owned();
    let rows = STORY.moments(0.0, 900.0, 1.0, &mut dice).into_iter().map(|it| {
        let time = clock(QUARTER_PAST_EIGHT + it.at);
        format!("2026-11-05T{time},{:.1},{:.1},{:.1},{},{}", it.sump, it.bay, it.coolant, it.speed, it.lever)
    });
    lines(std::iter::once(head).chain(rows)).into_bytes()
}

/// Semicolons, decimal commas, a preamble, quoted headings with units in a row of their own, a mark.
fn preamble() -> Vec<u8> {
    let mut dice = Dice::new("preamble");
    let head = [
        "Log of the bay reader".to_owned(),
        "Begun;05.11.2026".to_owned(),
        "Interval;1 s".to_owned(),
        String::new(),
        "\"Time\";\"Sump temp\";\"Bay temp\";\"Engine speed\";\"Lever; as shown\"".to_owned(),
        "hh:mm:ss;°C;°C;rpm;-".to_owned(),
    ];
    let rows = STORY.moments(0.0, 900.0, 1.0, &mut dice).into_iter().map(|it| {
        let (sump, bay) = (comma(it.sump, 1), comma(it.bay, 1));
        format!("{};{sump};{bay};{};{}", clock(QUARTER_PAST_EIGHT + it.at), it.speed, it.lever)
    });
    [b"\xEF\xBB\xBF".to_vec(), lines(head.into_iter().chain(rows)).into_bytes()].concat()
}

/// UTF-16, tabs, CR LF, past midnight, dashes and blanks where nothing was read.
fn night() -> Vec<u8> {
    let mut dice = Dice::new("night");
    let head = "Clock\tATF temp (°C)\tEngine rpm (rpm)\tLever".to_owned();
    let rows = STORY.moments(0.0, 700.0, 1.0, &mut dice).into_iter().enumerate().map(|(index, it)| {
        let sump = match index % 97 {
            40 => "-".to_owned(),
            41 => String::new(),
            _ => comma(it.sump, 1),
        };
        format!("{}\t{sump}\t{}\t{}", clock(23.0 * 3600.0 + 55.0 * 60.0 + it.at), it.speed, it.lever)
    });
    let text = lines(std::iter::once(head).chain(rows)).replace('\n', "\r\n");
    [vec![0xFF, 0xFE], text.encode_utf16().flat_map(u16::to_le_bytes).collect()].concat()
}

/// Latin-1, elapsed milliseconds, five rows a second, held readings, NaN.
fn milliseconds() -> Vec<u8> {
    let mut dice = Dice::new("milliseconds");
    let head = "Elapsed [ms],Fluid temp [°C],Engine speed [1/min]".to_owned();
    let mut held = String::new();
    let rows = STORY.moments(50.0, 350.0, 0.2, &mut dice).into_iter().enumerate().map(|(index, it)| {
        // The sensor is read once a second and its value is repeated in between.
        if index % 5 == 0 {
            held = if index % 500 == 5 { "NaN".to_owned() } else { format!("{:.1}", it.sump) };
        }
        format!("{:.0},{held},{}", (it.at - 50.0) * 1000.0, it.speed)
    });
    lines(std::iter::once(head).chain(rows)).chars().map(|letter| letter as u8).collect()
}

/// Elapsed seconds; each row has one reading and the others stay empty; some rows come twice.
fn staggered() -> Vec<u8> {
    let mut dice = Dice::new("staggered");
    let mut rows = vec!["time [s];Sump temp [degC];Engine speed [rpm];Selector".to_owned()];
    for it in STORY.moments(0.0, 900.0, 1.0, &mut dice) {
        rows.push(format!("{};{};;", comma(it.at, 2), comma(it.sump, 1)));
        rows.push(format!("{};;{};", comma(it.at + 0.3, 2), it.speed));
        rows.push(format!("{};;;{}", comma(it.at + 0.6, 2), it.lever));
        if it.at as u64 % 60 == 30 {
            rows.extend(rows.last().cloned());
        }
    }
    lines(rows).into_bytes()
}

/// Degrees Fahrenheit in whole steps, said in the heading.
fn fahrenheit_said() -> Vec<u8> {
    let mut dice = Dice::new("fahrenheit");
    let head = "Time,Sump temp degF,Ambient degF,Engine speed rpm,Selector".to_owned();
    let rows = STORY.moments(0.0, 900.0, 1.0, &mut dice).into_iter().map(|it| {
        let (sump, bay) = (fahrenheit(it.sump), fahrenheit(it.bay));
        format!("{},{sump:.0},{bay:.0},{},{}", clock(QUARTER_PAST_EIGHT + it.at), it.speed, it.lever)
    });
    lines(std::iter::once(head).chain(rows)).into_bytes()
}

/// Fahrenheit under a heading that says Celsius: a bay of 66 °C.
fn fahrenheit_as_celsius() -> Vec<u8> {
    String::from_utf8_lossy(&fahrenheit_said()).replace("degF", "[°C]").into_bytes()
}

/// Two columns that may be meant, and no units at all.
fn two_sumps() -> Vec<u8> {
    let mut dice = Dice::new("two sumps");
    let head = "Time;Sump temp 1;Sump temp 2;Engine speed [rpm]".to_owned();
    let rows = STORY.moments(0.0, 300.0, 1.0, &mut dice).into_iter().map(|it| {
        let (one, two) = (comma(it.sump, 1), comma(it.coolant, 1));
        format!("{};{one};{two};{}", clock(QUARTER_PAST_EIGHT + it.at), it.speed)
    });
    lines(std::iter::once(head).chain(rows)).into_bytes()
}

/// A sign in every number that could be decimal or one of thousands; positions as numbers.
fn thousandths() -> Vec<u8> {
    let mut dice = Dice::new("thousandths");
    let story = Story { lever: ["0", "1", "2", "3", "4"], ..STORY };
    let head = "Time;Sump temp [°C];Lever".to_owned();
    let rows = story
        .moments(0.0, 300.0, 1.0, &mut dice)
        .into_iter()
        .map(|it| format!("{};{};{}", clock(QUARTER_PAST_EIGHT + it.at), comma(it.sump, 3), it.lever));
    lines(std::iter::once(head).chain(rows)).into_bytes()
}

/// Started warm, the selector hurried, a faster idle later.
fn hurried() -> Vec<u8> {
    let mut dice = Dice::new("hurried");
    let story = Story { starts_at: 46.5, stay: 2.0, high_idle: true, ..STORY };
    let head = "Time,Sump temp [°C],Engine speed [rpm],Selector".to_owned();
    let rows = story
        .moments(0.0, 900.0, 1.0, &mut dice)
        .into_iter()
        .map(|it| format!("{},{:.1},{},{}", clock(QUARTER_PAST_EIGHT + it.at), it.sump, it.speed, it.lever));
    lines(std::iter::once(head).chain(rows)).into_bytes()
}

/// The reader lost the vehicle while the selector was in drive, and stood still near the end.
fn broken_off() -> Vec<u8> {
    let mut dice = Dice::new("broken off");
    let head = "Time,Sump temp [°C],Engine speed [rpm],Selector".to_owned();
    let mut frozen = None;
    let moments = STORY.moments(0.0, 1900.0, 1.0, &mut dice).into_iter();
    let rows = moments.filter(|it| !(145.0..151.0).contains(&it.at)).map(|it| {
        let sump = if it.at < 800.0 { it.sump } else { *frozen.get_or_insert(it.sump) };
        format!("{},{sump:.1},{},{}", clock(QUARTER_PAST_EIGHT + it.at), it.speed, it.lever)
    });
    lines(std::iter::once(head).chain(rows)).into_bytes()
}

/// The clock was set back under way, coolant stands under the heading of the fluid, one reading jumps, the end is cut.
fn mixed_up() -> Vec<u8> {
    let mut dice = Dice::new("mixed up");
    let head = "Time,Sump temp [°C],Coolant temp [°C],Engine speed [rpm]".to_owned();
    let rows = STORY.moments(0.0, 600.0, 1.0, &mut dice).into_iter().map(|it| {
        let back = if it.at >= 400.0 { 90.0 } else { 0.0 };
        let value = if it.at == 300.0 { 91.0 } else { it.coolant };
        format!("{},{value:.1},{value:.1},{}", clock(QUARTER_PAST_EIGHT + it.at - back), it.speed)
    });
    let mut bytes = lines(std::iter::once(head).chain(rows)).into_bytes();
    bytes.truncate(bytes.len() - 7);
    bytes
}

/// A whole check with its road test, rows each two seconds.
fn road() -> Vec<u8> {
    let mut dice = Dice::new("road");
    let head = "Time;Sump temp [°C];Bay temp [°C];Coolant temp [°C];Engine speed [rpm];Selector".to_owned();
    let rows = Story { stay: 10.0, ..STORY }.moments(0.0, 1200.0, 2.0, &mut dice).into_iter().map(|it| {
        let (sump, bay, coolant) = (comma(it.sump, 1), comma(it.bay, 1), comma(it.coolant, 1));
        format!("{};{sump};{bay};{coolant};{};{}", clock(QUARTER_PAST_EIGHT + it.at), it.speed, it.lever)
    });
    lines(std::iter::once(head).chain(rows)).into_bytes()
}

/// The level check of the job `plover-pickup`: warm in a quarter of an hour, engine off for the look at 11:28:35, cooling from
/// there, closed at 11:35:55.
fn pickup() -> Vec<u8> {
    let mut dice = Dice::new("pickup");
    let head = "timestamp,Sump temp [°C],Engine speed [rpm]".to_owned();
    let from = 11.0 * 3600.0 + 10.0 * 60.0;
    let rows = (0..840).map(|index| {
        let at = 2.0 * f64::from(index);
        let (running, after) = (at.min(1115.0), (at - 1115.0).max(0.0));
        let sump = 20.0 + running * 0.0318 - after * 0.013 + 0.04 * dice.even();
        let speed = if after > 0.0 { 0.0 } else { (720.0 + 12.0 * dice.even()).round() };
        format!("2026-11-27T{},{sump:.1},{speed}", clock(from + at))
    });
    lines(std::iter::once(head).chain(rows)).into_bytes()
}

/// The job `heron-van` came in hot: read each ten seconds from 14:10 until it may be opened at 16:03, in a bay of 18 °C, with a time
/// constant of 142 min.
fn van() -> Vec<u8> {
    let mut dice = Dice::new("van");
    let from = 14.0 * 3600.0 + 10.0 * 60.0;
    let rows = (0..720).map(|index| {
        let at = 10.0 * f64::from(index);
        // 71.5 °C at 14:18, when it was first read for the job.
        let sump = 18.0 + 53.5 * (-(at - 480.0) / (142.0 * 60.0)).exp() + 0.1 * dice.even();
        format!("2026-11-23T{},{sump:.1},0", clock(from + at))
    });
    lines(std::iter::once("timestamp,Sump temp [°C],Engine speed [rpm]".to_owned()).chain(rows)).into_bytes()
}

/// A vehicle that stood for more than two days, a row each three minutes; with dates or with the clock alone.
fn days(with_dates: bool) -> Vec<u8> {
    let mut dice = Dice::new("days");
    let head = "Time,Sump temp [°C],Engine speed [rpm]".to_owned();
    let from = 20.0 * 3600.0;
    let rows = (0..1100).map(|index| {
        let at = from + 180.0 * f64::from(index);
        let sump = 45.0 + 8.0 * (at / 86_400.0 * std::f64::consts::TAU).sin() + 0.05 * dice.even();
        let date =
            if with_dates { format!("2026-11-{:02}T", 5 + (at / 86_400.0).floor() as u32) } else { String::new() };
        format!("{date}{},{sump:.1},0", clock(at))
    });
    lines(std::iter::once(head).chain(rows)).into_bytes()
}

/// File name and bytes of every example.
pub fn all() -> Vec<(&'static str, Vec<u8>)> {
    vec![
        ("plain.csv", plain()),
        ("preamble.csv", preamble()),
        ("night-utf16.txt", night()),
        ("milliseconds-latin1.csv", milliseconds()),
        ("staggered.csv", staggered()),
        ("fahrenheit.csv", fahrenheit_said()),
        ("fahrenheit-as-celsius.csv", fahrenheit_as_celsius()),
        ("two-sumps.csv", two_sumps()),
        ("thousandths.csv", thousandths()),
        ("hurried.csv", hurried()),
        ("broken-off.csv", broken_off()),
        ("mixed-up.csv", mixed_up()),
        ("road.csv", road()),
        ("pickup.csv", pickup()),
        ("days-dated.csv", days(true)),
        ("days-clock.csv", days(false)),
        ("van.csv", van()),
    ]
}
