//! The machine: a list of instructions over a row of numbers.

use super::program::{Kind, Op, Part, Program};
use crate::api::bracketed;
use crate::limits;
use crate::operand::LARGEST_WHOLE;
use standpipe_quantity::close;

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

pub(super) fn finite(number: f64) -> Result<f64, Stop> {
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
#[inline]
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
        Kind::Less => truth(a < b && !close(a, b)),
        Kind::LessEqual => truth(a < b || close(a, b)),
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
        Some(exact) if exact.unsigned_abs() <= LARGEST_WHOLE.unsigned_abs() => Ok(exact as f64),
        _ => Err(Stop::Leave),
    }
}

/// Registers, and the constants behind them, lie in a room of one of two sizes: a place in it is found without asking
/// whether there is one, since the numbers of registers can't lie outside.
pub(super) const SMALL: usize = 1 << 8;
const LARGE: usize = 1 << 16;

fn place<const N: usize>(register: u16) -> usize {
    usize::from(register) & (N - 1)
}

impl Program {
    /// Room for a run.
    pub fn room(&self) -> Vec<f64> {
        let end = self.registers + self.constants.len();
        let mut room = vec![0.0; if end <= SMALL { SMALL } else { LARGE }];
        room[self.registers..end].copy_from_slice(&self.constants);
        room
    }

    /// Runs it; the inputs lie in the first registers.
    pub fn run(&self, room: &mut [f64]) -> End {
        match self.start(0, room, &mut limits::OPERATIONS.clone()) {
            Ok(result) => End::Finished(result),
            Err((Stop::Refuse, at)) => End::Refused(at),
            Err((Stop::Leave, at)) => End::Left(at),
        }
    }

    fn start(&self, at: u32, room: &mut [f64], left: &mut u64) -> Result<u16, (Stop, u32)> {
        if let Ok(small) = <&mut [f64; SMALL]>::try_from(&mut *room) {
            return self.go(at, small, left);
        }
        let Ok(large) = <&mut [f64; LARGE]>::try_from(room) else { return Err((Stop::Leave, at)) };
        self.go(at, large, left)
    }

    /// Runs to an end; gives the number of the result, or the register of a function's value.
    fn go<const N: usize>(&self, start: u32, room: &mut [f64; N], left: &mut u64) -> Result<u16, (Stop, u32)> {
        let mut at = start as usize;
        loop {
            let here = at as u32;
            let Some(op) = self.code.ops.get(at) else { return Err((Stop::Leave, here)) };
            at += 1;
            match *op {
                Op::Do { kind, to, a, b } => {
                    let (a, b) = (room[place::<N>(a)], room[place::<N>(b)]);
                    // What there is most of is done here; the same as in `apply`.
                    let number = match kind {
                        Kind::Add => a + b,
                        Kind::Sub => a - b,
                        Kind::Mul => a * b,
                        Kind::Div => a / b,
                        _ => apply(kind, a, b).map_err(|stop| (stop, here))?,
                    };
                    room[place::<N>(to)] = finite(number).map_err(|stop| (stop, here))?;
                }
                Op::Jump { to } => at = to as usize,
                Op::JumpIf { truth, to } => {
                    if room[place::<N>(truth)] != 0.0 {
                        at = to as usize;
                    }
                }
                Op::JumpUnless { truth, to } => {
                    if room[place::<N>(truth)] == 0.0 {
                        at = to as usize;
                    }
                }
                Op::Back { to } => {
                    let length = u64::from(here - to) + 1;
                    *left = left.checked_sub(length).ok_or((Stop::Leave, here))?;
                    at = to as usize;
                }
                Op::In { unit, to, a } => {
                    let number = self.units[usize::from(unit)].from_si(room[place::<N>(a)]);
                    room[place::<N>(to)] = finite(number).map_err(|stop| (stop, here))?;
                }
                Op::Call { part } => self.call(part, here, room, left)?,
                Op::Refuse => return Err((Stop::Refuse, here)),
                Op::Leave { .. } => return Err((Stop::Leave, here)),
                Op::Finish { result: end } | Op::Done { value: end } => return Ok(end),
            }
        }
    }

    #[cold]
    fn call(&self, part: u16, here: u32, room: &mut [f64], left: &mut u64) -> Result<(), (Stop, u32)> {
        let stop = |stop| (stop, here);
        let start = self.code.starts[usize::from(part)];
        match &self.parts[usize::from(part)] {
            Part::Between { keys, at, columns } => {
                read_between(keys, columns, room[*at as usize], |to, number| room[usize::from(to)] = number)
                    .map_err(stop)
            }
            Part::Solve { low, high, x, to } => {
                let (from, till) = (room[*low as usize], room[*high as usize]);
                if close(from, till) || from >= till {
                    return Err(stop(Stop::Refuse));
                }
                let mut value = |number: f64| -> Result<f64, (Stop, u32)> {
                    room[*x as usize] = number;
                    *left = left.checked_sub(16).ok_or(stop(Stop::Leave))?;
                    let register = self.start(start, room, left)?;
                    Ok(room[usize::from(register)])
                };
                let root = bracketed(from, till, &mut value, || stop(Stop::Refuse))?;
                room[*to as usize] = root;
                Ok(())
            }
        }
    }
}

/// A row of a table, or something between two.
pub(super) fn read_between(
    keys: &[f64],
    columns: &[(Vec<f64>, u16)],
    at: f64,
    mut put: impl FnMut(u16, f64),
) -> Result<(), Stop> {
    let (low, high, share) = between(keys, at).ok_or(Stop::Refuse)?;
    for (column, to) in columns {
        let (low, high) = (column[low], column[high]);
        put(*to, if share == 0.0 { low } else { low + (high - low) * share });
    }
    Ok(())
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
