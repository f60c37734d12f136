//! The machine: a list of instructions over a row of numbers.

use super::program::{Kind, Op, Part, Program};
use crate::quantity::close;
use crate::script::api::bracketed;
use crate::script::limits;
use crate::script::operand::LARGEST_WHOLE;

/// How a run ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum End {
    /// With the result of this number.
    Finished(u16),
    /// The interpreter refuses at this instruction.
    Refused(u32),
    /// The interpreter has to take over at this instruction.
    Left(u32),
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Stop {
    Refuse,
    Leave,
}

const WHOLE: f64 = LARGEST_WHOLE as f64;

fn finite(number: f64) -> Result<f64, Stop> {
    if number.is_finite() { Ok(number) } else { Err(Stop::Refuse) }
}

/// Zero has no sign among whole numbers; at 2^53 and beyond the interpreter goes on with other numbers.
fn whole(number: f64) -> Result<f64, Stop> {
    if number.abs() < WHOLE { Ok(number + 0.0) } else { Err(Stop::Leave) }
}

fn counted(number: f64) -> Result<f64, Stop> {
    if number.abs() <= WHOLE { Ok(number + 0.0) } else { Err(Stop::Refuse) }
}

fn truth(is: bool) -> Result<f64, Stop> {
    Ok(f64::from(u8::from(is)))
}

/// One operation on settled numbers: the machine's, and that of folding.
#[inline(never)]
pub(super) fn apply(kind: Kind, a: f64, b: f64) -> Result<f64, Stop> {
    match kind {
        Kind::Move => Ok(a),
        Kind::Add => finite(a + b),
        Kind::Sub => finite(a - b),
        Kind::Mul => finite(a * b),
        Kind::Div if b == 0.0 => Err(Stop::Refuse),
        Kind::Div => finite(a / b),
        Kind::Rem | Kind::WholeRem if b == 0.0 => Err(Stop::Refuse),
        Kind::Rem => finite(a % b),
        Kind::WholeAdd => whole(a + b),
        Kind::WholeSub => whole(a - b),
        Kind::WholeMul => whole(a * b),
        Kind::WholeRem => whole(a % b),
        Kind::WholePow => whole_power(a, b),
        Kind::Negate => Ok(-a),
        Kind::Minus => Ok(0.0 - a),
        Kind::Pow => finite(a.powf(b)),
        Kind::PowWhole => finite(a.powi(b as i32)),
        Kind::Root if a < 0.0 => Err(Stop::Refuse),
        Kind::Root | Kind::RootOf => finite(a.sqrt()),
        Kind::Exp => finite(a.exp()),
        Kind::Ln | Kind::Log10 if a <= 0.0 => Err(Stop::Refuse),
        Kind::Ln => finite(a.ln()),
        Kind::Log10 => finite(a.log10()),
        Kind::Sin => finite(a.sin()),
        Kind::Cos => finite(a.cos()),
        Kind::Tan => finite(a.tan()),
        Kind::Atan => finite(a.atan()),
        Kind::Abs => finite(a.abs()),
        Kind::Floor => counted(a.floor()),
        Kind::Ceil => counted(a.ceil()),
        Kind::Round => counted(a.round()),
        Kind::RoundTo => {
            let scale = 10f64.powi(b as i32);
            finite((a * scale).round() / scale)
        }
        Kind::AsWhole if a.fract() != 0.0 => Err(Stop::Refuse),
        Kind::AsWhole => counted(a),
        Kind::Less => truth(!close(a, b) && a < b),
        Kind::LessEqual => truth(close(a, b) || a < b),
        Kind::Equal => truth(close(a, b)),
        Kind::WholeLess => truth(a < b),
        Kind::WholeLessEqual => truth(a <= b),
        Kind::WholeEqual => truth(a == b),
        Kind::Not => truth(a == 0.0),
    }
}

fn whole_power(base: f64, by: f64) -> Result<f64, Stop> {
    if by < 0.0 || by > f64::from(u32::MAX) {
        return Err(Stop::Leave);
    }
    match (base as i64).checked_pow(by as u32) {
        Some(exact) if exact.abs() <= LARGEST_WHOLE => Ok(exact as f64),
        _ => Err(Stop::Leave),
    }
}

impl Program {
    /// Room for a run: registers, and the constants behind them.
    pub fn room(&self) -> Vec<f64> {
        let mut room = vec![0.0; self.registers];
        room.extend_from_slice(&self.constants);
        room
    }

    /// Runs it; the inputs lie in the first registers.
    pub fn run(&self, room: &mut [f64]) -> End {
        let mut left = limits::OPERATIONS;
        match self.go(0, room, &mut left) {
            Ok(end) => end,
            Err((Stop::Refuse, at)) => End::Refused(at),
            Err((Stop::Leave, at)) => End::Left(at),
        }
    }

    fn go(&self, start: u32, room: &mut [f64], left: &mut u64) -> Result<End, (Stop, u32)> {
        let mut at = start as usize;
        loop {
            let here = at as u32;
            let Some(op) = self.code.get(at) else { return Err((Stop::Leave, here)) };
            at += 1;
            match *op {
                Op::Do { kind, to, a, b } => {
                    let (a, b) = (room[a as usize], room[b as usize]);
                    // What there is most of, here and with one check; the same as in `apply`.
                    let result = match kind {
                        Kind::Move => a,
                        Kind::Add => a + b,
                        Kind::Sub => a - b,
                        Kind::Mul => a * b,
                        Kind::Div if b != 0.0 => a / b,
                        Kind::Exp => a.exp(),
                        Kind::Negate => -a,
                        _ => match apply(kind, a, b) {
                            Ok(number) => number,
                            Err(stop) => return Err((stop, here)),
                        },
                    };
                    if !result.is_finite() {
                        return Err((Stop::Refuse, here));
                    }
                    room[to as usize] = result;
                }
                Op::Jump { to } => at = to as usize,
                Op::JumpIf { truth, to } => {
                    if room[truth as usize] != 0.0 {
                        at = to as usize;
                    }
                }
                Op::JumpUnless { truth, to } => {
                    if room[truth as usize] == 0.0 {
                        at = to as usize;
                    }
                }
                Op::Back { to } => {
                    let length = u64::from(here - to) + 1;
                    *left = left.checked_sub(length).ok_or((Stop::Leave, here))?;
                    at = to as usize;
                }
                Op::In { unit, to, a } => {
                    let number = self.units[unit as usize].from_si(room[a as usize]);
                    room[to as usize] = finite(number).map_err(|stop| (stop, here))?;
                }
                Op::Call { part } => {
                    self.call(&self.parts[part as usize], room, left).map_err(|stop| (stop, here))?;
                }
                Op::Refuse => return Err((Stop::Refuse, here)),
                Op::Leave { .. } => return Err((Stop::Leave, here)),
                Op::Finish { result } => return Ok(End::Finished(result)),
                Op::Done { value } => {
                    // The caller reads the register, not the number.
                    return Ok(End::Finished(value));
                }
            }
        }
    }

    #[cold]
    fn call(&self, part: &Part, room: &mut [f64], left: &mut u64) -> Result<(), Stop> {
        match part {
            Part::Between { keys, at, columns } => {
                let at = room[*at as usize];
                let (low, high, share) = between(keys, at).ok_or(Stop::Refuse)?;
                for (column, to) in columns {
                    let (low, high) = (column[low], column[high]);
                    room[*to as usize] = if share == 0.0 { low } else { low + (high - low) * share };
                }
                Ok(())
            }
            Part::Solve { low, high, x, start, to } => {
                let (from, till) = (room[*low as usize], room[*high as usize]);
                if close(from, till) || from >= till {
                    return Err(Stop::Refuse);
                }
                let mut value = |number: f64| -> Result<f64, Stop> {
                    room[*x as usize] = number;
                    *left = left.checked_sub(16).ok_or(Stop::Leave)?;
                    match self.go(*start, room, left) {
                        Ok(End::Finished(register)) => Ok(room[register as usize]),
                        Ok(End::Refused(_)) => Err(Stop::Refuse),
                        Ok(End::Left(_)) => Err(Stop::Leave),
                        Err((stop, _)) => Err(stop),
                    }
                };
                let root = bracketed(from, till, &mut value, || Stop::Refuse)?;
                room[*to as usize] = root;
                Ok(())
            }
        }
    }
}

/// Between which rows a value lies, and how far from the first to the second.
fn between(keys: &[f64], at: f64) -> Option<(usize, usize, f64)> {
    if let Some(row) = keys.iter().position(|key| close(*key, at)) {
        return Some((row, row, 0.0));
    }
    let above = keys.partition_point(|key| *key < at);
    if above == 0 || above == keys.len() {
        return None;
    }
    let (low, high) = (keys[above - 1], keys[above]);
    Some((above - 1, above, (at - low) / (high - low)))
}
