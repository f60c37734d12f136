//! Scripts that nobody wrote: well-typed ones, made of choices, with inputs in the same way.
//!
//! What the generator knows of types is its own: it shares nothing with what is tested. Numbers are drawn so that zero,
//! signs, equal values and overflow come up, for a refusal must come at the same place both ways.

use std::fmt::Write;

use indexmap::IndexMap;
use standpipe::quantity::Units;
use standpipe::value::Value;

/// Choices: those that were handed in, and behind them SplitMix64 (Steele, Lea and Flood 2014; any generator would do).
pub struct Dice<'a> {
    bytes: &'a [u8],
    seed: u64,
}

impl<'a> Dice<'a> {
    /// `bytes`: the first choices, one each. A fuzzer that changes one of them changes one thing of a script.
    pub fn new(bytes: &'a [u8], seed: u64) -> Self {
        Self { bytes, seed }
    }

    fn next(&mut self) -> u64 {
        if let Some((first, rest)) = self.bytes.split_first() {
            self.bytes = rest;
            // Both ends of a number are looked at.
            return u64::from(*first) | u64::from(*first) << 56;
        }
        self.seed = self.seed.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.seed;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, count: usize) -> usize {
        (self.next() % count as u64) as usize
    }

    fn one<T: Copy>(&mut self, of: &[T]) -> T {
        of[self.below(of.len())]
    }

    pub fn number(&mut self) -> f64 {
        let plain = (self.next() >> 11) as f64 / (1u64 << 53) as f64;
        match self.below(12) {
            0 => 0.0,
            1 => 1.0,
            2 => -1.0,
            3 => 2.5,
            4 => -plain * 1e3,
            5 => plain * 1e-9,
            6 => 1e200 * plain,
            _ => plain * 20.0,
        }
    }
}

#[derive(Clone, Copy, PartialEq, Debug)]
enum Type {
    Number,
    Whole,
    Truth,
    Text,
    Length,
    Area,
    Warmth,
    Difference,
}

const INPUTS: [(&str, Type); 8] = [
    ("x.a", Type::Number),
    ("x.b", Type::Number),
    ("x.long", Type::Length),
    ("x.wide", Type::Length),
    ("x.warm", Type::Warmth),
    ("x.cold", Type::Warmth),
    ("x.yes", Type::Truth),
    ("x.word", Type::Text),
];

struct Writer<'d, 'a> {
    dice: &'d mut Dice<'a>,
    /// Names in sight with their types; inputs first.
    names: Vec<(String, Type)>,
    text: String,
    indent: usize,
    fresh: usize,
    in_loop: bool,
}

impl Writer<'_, '_> {
    fn name(&mut self, of: Type) -> Option<String> {
        let all: Vec<String> = self.names.iter().filter(|one| one.1 == of).map(|one| one.0.clone()).collect();
        if all.is_empty() { None } else { Some(all[self.dice.below(all.len())].clone()) }
    }

    fn literal(&mut self, of: Type) -> String {
        let n = self.dice.one(&["0.0", "1.0", "2.5", "0.1", "7.25", "1e3"]);
        match of {
            Type::Number => n.to_owned(),
            Type::Whole => self.dice.one(&["0", "1", "2", "3", "7", "-2", "94906267"]).to_owned(),
            Type::Truth => self.dice.one(&["true", "false"]).to_owned(),
            Type::Text => self.dice.one(&["\"red\"", "\"blue\"", "\"\""]).to_owned(),
            Type::Length => format!("({n}).{}", self.dice.one(&["m", "mm", "inch"])),
            Type::Area => format!("({n}).mm2"),
            Type::Warmth => format!("({n}).{}", self.dice.one(&["degC", "degF", "K"])),
            Type::Difference => format!("({n}).{}", self.dice.one(&["degC_diff", "degF_diff"])),
        }
    }

    /// Of something that rises, mostly, and on two ways: there is a zero for some inputs, and not after as many steps for all.
    fn solve(&mut self, depth: usize) -> String {
        self.fresh += 1;
        let q = format!("q{}", self.fresh);
        let (bend, zero) = (self.expr(Type::Number, depth), self.expr(Type::Number, depth));
        self.names.push((q.clone(), Type::Number));
        let small = self.expr(Type::Truth, depth);
        self.names.pop();
        format!(
            "solve(|{q}| if {small} {{ {q} * {q} * {q} - {zero} }} else {{ {q} * ({bend}) - {zero} }}, -40.0, 60.0)"
        )
    }

    fn expr(&mut self, of: Type, depth: usize) -> String {
        use Type::*;
        if depth == 0 || self.dice.below(6) == 0 {
            return match self.name(of) {
                Some(name) if self.dice.below(4) > 0 => name,
                _ => self.literal(of),
            };
        }
        let d = depth - 1;
        if self.dice.below(9) == 0 {
            let (truth, a, b) = (self.expr(Truth, d), self.expr(of, d), self.expr(of, d));
            return format!("(if {truth} {{ {a} }} else {{ {b} }})");
        }
        match of {
            Number => match self.dice.below(16) {
                0 => format!("({} / {})", self.expr(Length, d), self.expr(Length, d)),
                1 => format!(
                    "{}({})",
                    self.dice.one(&["exp", "ln", "log10", "sin", "cos", "atan", "sqrt", "abs"]),
                    self.expr(Number, d)
                ),
                2 => format!(
                    "{}({}, {})",
                    self.dice.one(&["min", "max", "pow", "mean"]),
                    self.expr(Number, d),
                    self.expr(Number, d)
                ),
                3 => format!("{}.value(\"{}\")", self.grouped(Warmth, d), self.dice.one(&["degC", "degF", "K"])),
                4 => format!("{}.value(\"{}\")", self.grouped(Length, d), self.dice.one(&["mm", "m", "in"])),
                5 => format!("({} {} {})", self.expr(Whole, d), self.dice.one(&["/", "* 1.5 +"]), self.expr(Whole, d)),
                6 => format!("({} ** {})", self.grouped(Number, d), self.expr(Number, d)),
                7 => format!("(-{})", self.expr(Number, d)),
                8 => format!("half({})", self.expr(Number, d)),
                9 => format!("({} % {})", self.expr(Number, d), self.expr(Number, d)),
                10 => format!("round({}, {})", self.expr(Number, d), self.dice.below(4)),
                11 => format!("sum([{}, {}])", self.expr(Number, d), self.expr(Number, d)),
                12 if self.dice.below(4) == 0 => self.solve(d),
                _ => format!(
                    "({} {} {})",
                    self.expr(Number, d),
                    self.dice.one(&["+", "-", "*", "/"]),
                    self.expr(Number, d)
                ),
            },
            Whole => match self.dice.below(5) {
                0 => format!("{}({})", self.dice.one(&["floor", "ceil", "round"]), self.expr(Number, d)),
                1 => format!("len([{}])", self.expr(Number, d)),
                2 => format!("({} % {})", self.expr(Whole, d), self.expr(Whole, d)),
                _ => format!("({} {} {})", self.expr(Whole, d), self.dice.one(&["+", "-", "*"]), self.expr(Whole, d)),
            },
            Truth => match self.dice.below(9) {
                0 => {
                    format!("({} {} {})", self.expr(Truth, d), self.dice.one(&["&&", "||", "=="]), self.expr(Truth, d))
                }
                1 => format!("!({})", self.expr(Truth, d)),
                2 => format!("({} {} {})", self.expr(Text, d), self.dice.one(&["==", "!="]), self.expr(Text, d)),
                3 => format!("({} in range({}, {}))", self.expr(Warmth, d), self.expr(Warmth, d), self.expr(Warmth, d)),
                4 => format!("({} in [{}, {}])", self.expr(Number, d), self.expr(Number, d), self.expr(Number, d)),
                5 => format!(
                    "[{}, {}].every(|one| one > {})",
                    self.expr(Length, d),
                    self.expr(Length, d),
                    self.name(Length).unwrap_or("1.m".into())
                ),
                _ => {
                    let kind = self.dice.one(&[Number, Whole, Length, Warmth, Difference, Area]);
                    let order = self.dice.one(&["<", "<=", ">", ">=", "==", "!="]);
                    format!("({} {order} {})", self.expr(kind, d), self.expr(kind, d))
                }
            },
            Text => self.literal(Text),
            Length => match self.dice.below(9) {
                0 => format!("sqrt({})", self.expr(Area, d)),
                1 => format!("({} / {})", self.expr(Area, d), self.expr(Length, d)),
                2 => format!("({} {} {})", self.expr(Length, d), self.dice.one(&["*", "/"]), self.expr(Number, d)),
                3 => format!(
                    "{}({}, {})",
                    self.dice.one(&["min", "max", "mean"]),
                    self.expr(Length, d),
                    self.expr(Length, d)
                ),
                4 => format!("abs({})", self.expr(Length, d)),
                5 => format!("(-{})", self.expr(Length, d)),
                6 => format!("({}).mm", self.expr(Number, d)),
                _ => format!("({} {} {})", self.expr(Length, d), self.dice.one(&["+", "-"]), self.expr(Length, d)),
            },
            Area => match self.dice.below(3) {
                0 => format!("({} ** 2)", self.grouped(Length, d)),
                1 => format!("({} + {})", self.expr(Area, d), self.expr(Area, d)),
                _ => format!("({} * {})", self.expr(Length, d), self.expr(Length, d)),
            },
            Warmth => match self.dice.below(4) {
                0 => format!("mean({}, {})", self.expr(Warmth, d), self.expr(Warmth, d)),
                1 => format!("max({}, {})", self.expr(Warmth, d), self.expr(Warmth, d)),
                _ => format!("({} {} {})", self.expr(Warmth, d), self.dice.one(&["+", "-"]), self.expr(Difference, d)),
            },
            Difference => match self.dice.below(3) {
                0 => format!("({} * {})", self.expr(Difference, d), self.expr(Number, d)),
                _ => format!("({} - {})", self.expr(Warmth, d), self.expr(Warmth, d)),
            },
        }
    }

    /// Before a point or a power a sign could be meant either way.
    fn grouped(&mut self, of: Type, depth: usize) -> String {
        match self.name(of) {
            Some(name) if self.dice.below(2) == 0 => name,
            _ => format!("max({0}, {0})", self.expr(of, depth)),
        }
    }

    fn line(&mut self, text: &str) {
        let _ = writeln!(self.text, "{}{text}", "    ".repeat(self.indent));
    }

    fn any(&mut self) -> Type {
        use Type::*;
        self.dice.one(&[Number, Number, Whole, Truth, Text, Length, Area, Warmth, Difference])
    }

    fn block(&mut self, depth: usize) {
        let known = self.names.len();
        self.indent += 1;
        for _ in 0..=self.dice.below(3) {
            self.statement(depth);
        }
        self.indent -= 1;
        self.names.truncate(known);
    }

    fn statement(&mut self, depth: usize) {
        let of = self.any();
        match self.dice.below(if depth == 0 { 5 } else { 10 }) {
            0..=2 => {
                let value = self.expr(of, 3);
                self.fresh += 1;
                let name = format!("v{}", self.fresh);
                self.line(&format!("let {name} = {value};"));
                self.names.push((name, of));
            }
            3 | 4 => {
                let own: Vec<(String, Type)> =
                    self.names.iter().filter(|one| one.0.starts_with('v')).cloned().collect();
                if own.is_empty() {
                    return;
                }
                let (name, of) = own[self.dice.below(own.len())].clone();
                let value = self.expr(of, 2);
                self.line(&format!("{name} = {value};"));
            }
            5 | 6 => {
                let truth = self.expr(Type::Truth, 2);
                self.line(&format!("if {truth} {{"));
                self.block(depth - 1);
                if self.dice.below(2) == 0 {
                    self.line("} else {");
                    self.block(depth - 1);
                }
                self.line("}");
            }
            7 => {
                let truth = self.expr(Type::Truth, 2);
                let way = if self.in_loop {
                    self.dice.one(&["break;", "continue;", "throw \"no\";"])
                } else {
                    "throw \"no\";"
                };
                self.line(&format!("if {truth} {{ {way} }}"));
            }
            _ => {
                let (from, to) = (self.dice.below(3), self.dice.below(6));
                self.fresh += 1;
                let name = format!("i{}", self.fresh);
                self.line(&format!("for {name} in {from}..{to} {{"));
                self.names.push((name, Type::Whole));
                let was = std::mem::replace(&mut self.in_loop, true);
                self.block(depth - 1);
                self.in_loop = was;
                self.names.pop();
                self.line("}");
            }
        }
    }

    fn script(mut self) -> String {
        self.line("fn half(n) {\n    if n > 3.0 { return n / 2.0; }\n    n - 1.5\n}\n\nfn made(x) {");
        self.indent = 1;
        for _ in 0..4 + self.dice.below(5) {
            self.statement(2);
        }
        let mut fields = String::new();
        let own: Vec<String> =
            self.names.iter().map(|one| one.0.clone()).filter(|name| name.starts_with('v')).collect();
        for name in &own {
            let _ = write!(fields, "{name}: {name}, ");
        }
        let (number, area) = (self.expr(Type::Number, 3), self.expr(Type::Area, 2));
        self.line(&format!("#{{ {fields}number: {number}, area: {area} }}"));
        self.text.push_str("}\n");
        self.text
    }
}

/// What it is given.
pub fn inputs(dice: &mut Dice<'_>, units: &Units) -> IndexMap<String, Value> {
    let mut all = IndexMap::new();
    for (name, of) in INPUTS {
        let name = name.trim_start_matches("x.").to_owned();
        let written = |text: String, family: &str| units.read(&text, Some(family), None);
        let number = dice.number();
        let value = match of {
            Type::Truth => Value::Truth(dice.below(2) == 0),
            Type::Text => Value::Text(dice.one(&["red", "blue", "green"]).to_owned()),
            Type::Number => Value::Number(number),
            Type::Length if dice.below(2) == 0 => Value::Quantity(units.quantity(number, "mm").unwrap()),
            Type::Length => written(format!("{:.2} mm", number % 1e5), "length").unwrap(),
            _ if dice.below(2) == 0 => Value::Quantity(units.quantity(number.abs() % 100.0, "degC").unwrap()),
            _ => written(format!("{:.1} degF", number.abs() % 200.0), "temperature").unwrap(),
        };
        all.insert(name, value);
    }
    all
}

/// A script with a function `made`.
pub fn script(dice: &mut Dice<'_>) -> String {
    let names = INPUTS.iter().map(|(name, of)| ((*name).to_owned(), *of)).collect();
    Writer { dice, names, text: String::new(), indent: 0, fresh: 0, in_loop: false }.script()
}
