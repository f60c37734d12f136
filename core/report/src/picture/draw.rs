//! From numbers to shapes. A picture is 360 wide: a phone shows it as it is.

use super::draw_course::draw_course;
use super::scale::{Scale, plain};
use super::svg::{Svg, Table};
use super::{Balance, Curve, Drawn, Layout, Picture, Point};
use crate::shown::clock;

pub(super) const WIDTH: f64 = 360.0;
/// Room above a layout for what lies at its top.
const HEAD: f64 = 16.0;

pub fn draw(picture: &Picture) -> Svg {
    match &picture.drawn {
        Drawn::Layout(layout) => draw_layout(layout),
        Drawn::Course(course) => draw_course(course),
        Drawn::Balance(balance) => draw_balance(balance),
        Drawn::Curve(curve) => draw_curve(curve),
        Drawn::Rounds(curve) => draw_rounds(curve),
    }
}

pub(super) fn ends(values: impl Iterator<Item = f64>) -> (f64, f64) {
    values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)))
}

fn draw_layout(layout: &Layout) -> Svg {
    let (mut svg, turns, middle) = grounds(layout);
    for (point, at) in layout.points.iter().zip(&turns) {
        svg.circle(*at, 13.0, if point.turn == 1 { "spot first" } else { "spot" });
        svg.text((at.0, at.1 + 5.0), if point.turn == 1 { "figure first" } else { "figure" }, point.turn.to_string());
        // Its own number stands outside, away from the middle.
        let below = at.1 > middle.1;
        svg.text((at.0, at.1 + if below { 28.0 } else { -19.0 }), "small mid", format!("no. {}", point.item));
    }
    let unit = &layout.unit;
    let head = ["turn".to_owned(), "number".to_owned(), format!("x [{unit}]"), format!("y [{unit}]")];
    let rows = layout
        .points
        .iter()
        .map(|point| vec![point.turn.to_string(), point.item.to_string(), plain(point.x), plain(point.y)]);
    svg.table = Table { head: head.to_vec(), rows: rows.collect() };
    svg
}

/// The same while the work is under way: each with its own number, and what has become of it.
pub(super) fn draw_points(layout: &Layout, class: &dyn Fn(&Point) -> &'static str) -> Svg {
    let (mut svg, turns, _) = grounds(layout);
    for (point, at) in layout.points.iter().zip(&turns) {
        let (spot, figure, radius) = match class(point) {
            "next" => ("spot next", "figure next", 17.0),
            "done" => ("spot done", "figure done", 13.0),
            _ => ("spot", "figure", 13.0),
        };
        svg.circle(*at, radius, spot);
        svg.text((at.0, at.1 + 5.0), figure, point.item.to_string());
    }
    svg
}

/// Points where they are drawn, in their turn and with the way along them; and the middle of all.
fn grounds(layout: &Layout) -> (Svg, Vec<(f64, f64)>, (f64, f64)) {
    let (left, right) = ends(layout.points.iter().map(|point| point.x));
    let (bottom, top) = ends(layout.points.iter().map(|point| point.y));
    let (wide, high) = ((right - left).max(1.0), (top - bottom).max(1.0));
    let edge = 34.0;
    let head = if layout.up.is_some() { HEAD } else { 0.0 };
    // One scale for both ways, so that the part keeps its shape.
    let scale = ((WIDTH - 2.0 * edge) / wide).min(300.0 / high);
    let height = high * scale + 2.0 * edge + head;
    let shift = (WIDTH - wide * scale) / 2.0;
    let mut svg = Svg::new(WIDTH, height);
    let place = |x: f64, y: f64| (shift + (x - left) * scale, head + edge + (top - y) * scale);
    let turns: Vec<(f64, f64)> = layout.points.iter().map(|point| place(point.x, point.y)).collect();
    svg.path(&turns, "way");
    if let Some(up) = &layout.up {
        svg.text((WIDTH / 2.0, 13.0), "small mid strong", format!("\u{2191} {up}"));
    }
    (svg, turns, place((left + right) / 2.0, (bottom + top) / 2.0))
}

fn draw_balance(balance: &Balance) -> Svg {
    let total = |of: &[super::Amount]| of.iter().map(|amount| amount.amount.value).sum::<f64>();
    let most = total(&balance.added).max(total(&balance.removed)).max(1e-9);
    let with_net = balance.net.is_some();
    let mut svg = Svg::new(WIDTH, if with_net { 190.0 } else { 108.0 });
    let (left, right) = (40.0, WIDTH - 8.0);
    let x = Scale::new(0.0, most, left, right);
    for (row, (name, amounts, shown)) in
        [("in", &balance.added, &balance.added_shown), ("out", &balance.removed, &balance.removed_shown)]
            .into_iter()
            .enumerate()
    {
        let top = 20.0 + row as f64 * 46.0;
        svg.text((left - 8.0, top + 17.0), "end strong", name);
        svg.text((left, top - 5.0), "small", shown.clone());
        let mut from = 0.0;
        for (index, amount) in amounts.iter().enumerate() {
            let to = from + amount.amount.value;
            let width = (x.place(to) - x.place(from) - 1.5).max(1.0);
            svg.rect((x.place(from), top), width, 24.0, if row == 0 { "bar" } else { "bar out" });
            if width > 18.0 {
                let figure = format!("{}{}", if row == 0 { "i" } else { "o" }, index + 1);
                svg.text((x.place(from) + width / 2.0, top + 17.0), "small mid on-bar", figure);
            }
            from = to;
        }
    }
    if let Some(net) = &balance.net {
        let give = balance.uncertainty.as_ref().map_or(0.0, |give| give.value);
        let allowed = balance.allowed.as_ref().map_or(0.0, |allowed| allowed.value);
        let reach = (net.value.abs() + give).max(allowed) * 1.15 + 1e-9;
        let x = Scale::new(-reach, reach, left, right);
        let line = 142.0;
        if allowed > 0.0 {
            svg.rect((x.place(-allowed), line - 12.0), x.place(allowed) - x.place(-allowed), 24.0, "window");
        }
        svg.line((left, line), (right, line), "axis");
        svg.line((x.place(0.0), line - 16.0), (x.place(0.0), line + 16.0), "axis");
        for tick in x.ticks(5) {
            svg.text((x.place(tick), line + 28.0), "small mid", plain(tick));
        }
        svg.line((x.place(net.value - give), line), (x.place(net.value + give), line), "give");
        svg.circle((x.place(net.value), line), 5.0, "dot");
        svg.text((left - 8.0, line + 4.0), "end strong", "net");
        svg.text(
            (WIDTH / 2.0 + 18.0, line + 44.0),
            "small mid",
            format!("short  \u{2190}   {} net   \u{2192}  over", balance.unit),
        );
    }
    svg.table.head = ["", "what", "time", "as measured"].map(str::to_owned).to_vec();
    for (sign, of) in [("i", &balance.added), ("o", &balance.removed)] {
        svg.table.rows.extend(of.iter().enumerate().map(|(index, amount)| {
            let way = if sign == "i" { "in" } else { "out" };
            let mark = format!("{sign}{}", index + 1);
            vec![mark, format!("{way}: {}", amount.name), clock(amount.at), amount.amount.shown.clone()]
        }));
    }
    let more = [
        ("net, at one temperature", &balance.net),
        ("give or take", &balance.uncertainty),
        ("allowed", &balance.allowed),
    ];
    let more = more
        .into_iter()
        .filter_map(|(name, it)| Some(vec![String::new(), name.to_owned(), String::new(), it.as_ref()?.shown.clone()]));
    svg.table.rows.extend(more);
    svg
}

fn draw_curve(curve: &Curve) -> Svg {
    let height = 230.0;
    let (left, right, top, bottom) = (46.0, WIDTH - 12.0, 24.0, height - 44.0);
    let (x_low, x_high) = ends(curve.points.iter().map(|point| point.x));
    let (y_low, y_high) = ends(curve.points.iter().map(|point| point.y));
    let x = Scale::new(x_low, x_high, left, right);
    let y = match y_low > 0.0 && y_high / y_low > 20.0 {
        true => Scale::by_powers(y_low * 0.9, y_high * 1.1, bottom, top),
        false => Scale::new(y_low.min(0.0), y_high * 1.05, bottom, top),
    };
    let mut svg = Svg::new(WIDTH, height);
    for tick in y.ticks(5) {
        svg.line((left, y.place(tick)), (right, y.place(tick)), "grid");
        svg.text((left - 5.0, y.place(tick) + 4.0), "small end", plain(tick));
    }
    for tick in x.ticks(6) {
        svg.line((x.place(tick), bottom), (x.place(tick), bottom + 4.0), "axis");
        svg.text((x.place(tick), bottom + 17.0), "small mid", plain(tick));
    }
    svg.line((left, bottom), (right, bottom), "axis");
    svg.text((4.0, 13.0), "small", format!("{} [{}]", curve.y_name, curve.y_unit));
    svg.text(((left + right) / 2.0, height - 8.0), "small mid", format!("{} [{}]", curve.x_name, curve.x_unit));
    let inside = |value: f64| curve.holds.is_none_or(|[low, high]| low - 1e-9 <= value && value <= high + 1e-9);
    let place = |point: &super::CurvePoint| (x.place(point.x), y.place(point.y));
    let (mut run, mut was): (Vec<(f64, f64)>, Option<bool>) = (Vec::new(), None);
    for point in &curve.points {
        let is = inside(point.x);
        if was.is_some_and(|was| was != is) {
            run.push(place(point));
            svg.path(&run, if was == Some(true) { "curve" } else { "curve beyond" });
            run = vec![place(point)];
        } else {
            run.push(place(point));
        }
        was = Some(is);
    }
    svg.path(&run, if was == Some(true) { "curve" } else { "curve beyond" });
    if let Some(today) = &curve.today {
        let at = place(today);
        svg.line((at.0, at.1), (at.0, bottom), "event");
        svg.line((left, at.1), (at.0, at.1), "event");
        svg.circle(at, 5.0, "dot");
        let right_of = at.0 < WIDTH / 2.0;
        let text = (if right_of { at.0 + 9.0 } else { at.0 - 9.0 }, at.1 - 7.0);
        svg.text(text, if right_of { "small strong" } else { "small strong end" }, format!("today {}", today.y_shown));
    }
    let every = (curve.points.len() / 5).max(1);
    svg.table = curve_table(curve, every);
    svg
}

fn curve_table(curve: &Curve, every: usize) -> Table {
    let head = [curve.x_name.clone(), curve.y_name.clone(), String::new()].to_vec();
    let note = |x: f64| match curve.holds {
        Some([low, high]) if x < low - 1e-9 || x > high + 1e-9 => "extrapolated",
        _ => "",
    };
    let row = |point: &super::CurvePoint, note: String| vec![point.x_shown.clone(), point.y_shown.clone(), note];
    let mut rows: Vec<Vec<String>> =
        curve.points.iter().step_by(every).map(|point| row(point, note(point.x).to_owned())).collect();
    if let Some(today) = &curve.today {
        let beyond = note(today.x);
        rows.push(row(today, if beyond.is_empty() { "today".to_owned() } else { format!("today, {beyond}") }));
    }
    Table { head, rows }
}

fn draw_rounds(curve: &Curve) -> Svg {
    let height = 190.0;
    let (left, right, top, bottom) = (14.0, WIDTH - 14.0, 26.0, height - 40.0);
    let (_, most) = ends(curve.points.iter().map(|point| point.y));
    let y = Scale::new(0.0, most.max(1e-9), bottom, top);
    let slot = (right - left) / curve.points.len().max(1) as f64;
    let mut svg = Svg::new(WIDTH, height);
    for (index, point) in curve.points.iter().enumerate() {
        let middle = left + (index as f64 + 0.5) * slot;
        let is_today = curve.today.as_ref().is_some_and(|today| (today.x - point.x).abs() < 1e-9);
        let width = (slot * 0.62).min(54.0);
        svg.rect(
            (middle - width / 2.0, y.place(point.y)),
            width,
            bottom - y.place(point.y),
            if is_today { "bar today" } else { "bar out" },
        );
        svg.text(
            (middle, y.place(point.y) - 5.0),
            if is_today { "small mid strong" } else { "small mid" },
            point.y_shown.clone(),
        );
        svg.text((middle, bottom + 16.0), if is_today { "small mid strong" } else { "small mid" }, plain(point.x));
    }
    svg.line((left, bottom), (right, bottom), "axis");
    svg.text((WIDTH / 2.0, height - 8.0), "small mid", format!("{}, this job in bold", curve.x_name));
    svg.table = curve_table(curve, 1);
    svg
}
