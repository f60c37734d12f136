//! Many rows at once come to what each of them comes to alone.

use indexmap::IndexMap;
use standpipe::script::{Field, Held, LANES, Lowered, Port, Read, Room};
use standpipe::value::Value;

/// Runs a program with other numbers in every lane, and each of them alone; says how many lanes came to a result.
pub fn compare(
    program: &Lowered,
    inputs: &IndexMap<String, Value>,
    mut number: impl FnMut() -> f64,
) -> Result<usize, String> {
    let (Some(room), Some(results)) = (program.room_with(inputs), program.fields()) else { return Ok(0) };
    let mut abreast = program.abreast(&room);
    let mut alone = vec![room.clone(); LANES];
    for (lane, room) in alone.iter_mut().enumerate() {
        for name in inputs.keys() {
            let Port::Number { si, written } = program.port(name) else { continue };
            // Some lanes keep what others change, so that their ways part.
            if lane % 3 > 0 {
                for register in [Some(si), written.map(|(_, place)| place)].into_iter().flatten() {
                    let number = number();
                    room.set(register, number);
                    abreast.set(lane, register, number);
                }
            }
        }
    }
    let came = program.go_abreast(&mut abreast);
    for (lane, own) in alone.iter_mut().enumerate() {
        let result = program.go(own);
        if came[lane] != result {
            return Err(format!("lane {lane}: {:?} instead of {result:?}", came[lane]));
        }
        let Some(result) = result else { continue };
        let mut shown = room.clone();
        abreast.show(lane, &mut shown);
        let (found, expected) = (bits(&results[result], &shown), bits(&results[result], own));
        if found != expected {
            return Err(format!("lane {lane}: {found:?} instead of {expected:?}"));
        }
    }
    Ok(came.iter().flatten().count())
}

/// Every number of a result.
fn bits(fields: &[Field], room: &Room) -> Vec<u64> {
    let mut all: Vec<Read> = Vec::new();
    for field in fields {
        all.extend(field.there);
        match &field.what {
            Held::Quantity(_, read) | Held::Text(read) | Held::Truth(read) => all.push(*read),
            Held::Range(_, low, high) => all.extend([*low, *high]),
            Held::Texts(texts) => texts.iter().for_each(|(there, read)| all.extend(there.iter().chain([read]))),
            Held::Other => {}
        }
    }
    all.into_iter().map(|read| room.read(read).to_bits()).collect()
}
