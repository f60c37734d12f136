//! A story as some reader writes it: its clock, its units, its decimal sign, its columns. None of that changes what is true.

use crate::dice::Dice;
use crate::story::{Moment, Story};

const DAY: f64 = 86_400.0;

#[derive(Clone, Copy, PartialEq)]
enum Time {
    Clock,
    Dated,
    Seconds,
    Milliseconds,
}

/// The log, and how its clock counts: by the second of the first row.
pub struct Written {
    pub bytes: Vec<u8>,
    pub first: f64,
    pub dated: bool,
    pub said: String,
}

#[derive(Clone)]
pub struct Form {
    time: Time,
    begins: f64,
    comma: bool,
    delimiter: char,
    unit: &'static str,
    /// Which columns stand where; those beyond the readings are of no use.
    order: Vec<usize>,
    staggered: bool,
    preamble: bool,
    decimals: usize,
}

const EXTRA: [&str; 2] = ["Battery [V]", "Note"];

impl Form {
    pub fn by(dice: &mut Dice, decimals: usize) -> Self {
        let comma = dice.one_of(&[false, true]);
        let mut order: Vec<usize> = (0..5 + dice.one_of(&[0, 0, 1, 2])).collect();
        dice.shuffle(&mut order);
        Self {
            time: dice.one_of(&[Time::Clock, Time::Dated, Time::Seconds, Time::Milliseconds]),
            // In the morning, or so late that midnight is passed on the way.
            begins: dice.one_of(&[8.0, 11.25, 23.9, 23.98]) * 3600.0,
            comma,
            delimiter: if comma { dice.one_of(&[';', '\t']) } else { dice.one_of(&[',', ';', '\t']) },
            unit: dice.one_of(&["°C", "°C", "degF", "K"]),
            order,
            staggered: dice.one_of(&[false, false, true]),
            preamble: dice.one_of(&[false, true]),
            decimals,
        }
    }

    fn number(&self, value: f64, decimals: usize) -> String {
        let text = format!("{value:.decimals$}");
        if self.comma { text.replace('.', ",") } else { text }
    }

    fn temperature(&self, celsius: f64) -> String {
        if celsius.is_nan() {
            return "fault".to_owned();
        }
        let value = match self.unit {
            "degF" => celsius * 1.8 + 32.0,
            "K" => celsius + 273.15,
            _ => celsius,
        };
        // Kelvin that are cut to whole degrees would be coarser than what was read.
        self.number(value, self.decimals)
    }

    fn moment(&self, at: f64) -> String {
        let clock = |seconds: f64| {
            let tenths = (seconds * 10.0).round() as u64;
            let (whole, tenth) = (tenths / 10 % 86_400, tenths % 10);
            format!("{:02}:{:02}:{:02}.{tenth}", whole / 3600, whole / 60 % 60, whole % 60)
        };
        match self.time {
            Time::Clock => clock(self.begins + at),
            Time::Dated => {
                let second = self.begins + (at * 10.0).round() / 10.0;
                format!("2026-11-{:02}T{}", 5 + (second / DAY).floor() as u32, clock(second))
            }
            Time::Seconds => self.number(at, 1),
            Time::Milliseconds => format!("{:.0}", at * 1000.0),
        }
    }

    fn cell(&self, column: usize, row: &Moment) -> String {
        match column {
            0 => self.temperature(row.sump),
            1 => self.temperature(row.bay),
            2 => self.temperature(row.coolant),
            3 => format!("{}", row.speed),
            4 => row.lever[..1].to_uppercase(),
            5 => self.number(12.4, 1),
            _ => "ok".to_owned(),
        }
    }

    fn headings(&self) -> Vec<String> {
        let unit = self.unit;
        let all = [
            format!("Sump temp [{unit}]"),
            format!("Ambient [{unit}]"),
            format!("Coolant temp [{unit}]"),
            "Engine speed [rpm]".to_owned(),
            "Lever".to_owned(),
        ];
        self.order
            .iter()
            .map(|column| all.get(*column).cloned().unwrap_or_else(|| EXTRA[column - 5].to_owned()))
            .collect()
    }

    pub fn write(&self, story: &Story) -> Written {
        let time = match self.time {
            Time::Clock => "Time",
            Time::Dated => "Timestamp",
            Time::Seconds => "Elapsed [s]",
            Time::Milliseconds => "Elapsed [ms]",
        };
        let delimiter = self.delimiter.to_string();
        let mut lines = Vec::new();
        if self.preamble {
            lines.extend(["Export of an invented reader".to_owned(), String::new()]);
        }
        lines.push([vec![time.to_owned()], self.headings()].concat().join(&delimiter));
        // Where one reading comes after the other, they come a tenth of the interval apart.
        let apart = if self.staggered { story.interval / 10.0 } else { 0.0 };
        for row in &story.rows {
            let cells: Vec<String> = self.order.iter().map(|column| self.cell(*column, row)).collect();
            if !self.staggered {
                lines.push([vec![self.moment(row.at)], cells].concat().join(&delimiter));
                continue;
            }
            for at in 0..cells.len() {
                let mut one = vec![String::new(); cells.len()];
                one[at].clone_from(&cells[at]);
                lines.push([vec![self.moment(row.at + at as f64 * apart)], one].concat().join(&delimiter));
            }
        }
        let first = match self.time {
            Time::Clock | Time::Dated => self.begins,
            Time::Seconds | Time::Milliseconds => 0.0,
        };
        let how = format!(
            "{}{}{}",
            self.unit,
            if self.comma { ", comma" } else { "" },
            if self.staggered { ", staggered" } else { "" }
        );
        Written { bytes: (lines.join("\n") + "\n").into_bytes(), first, dated: self.time == Time::Dated, said: how }
    }
}
