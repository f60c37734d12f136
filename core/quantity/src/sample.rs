//! Families for tests that need the rules and not the embedded plugin.

use super::{Quantity, Units, UnitsFile};
use crate::value::Value;
use standpipe_diagnostic::Problems;
use standpipe_diagnostic::source::{Place, Source};

pub const SAMPLE: &str = "
units: sample
quantities:
  length: { dimension: length, shown: { metric: m, inch: ft }, units: { m: { factor: 1, script: m }, ft: { factor: 0.3048, script: ft }, mm: { factor: 0.001 } } }
  moment:
    dimension: mass * length^2 / time^2
    distinct_from: [work]
    shown: { metric: N·m, inch: lbf·ft }
    units: { N·m: { factor: 1, script: N_m }, lbf·ft: { factor: 0.45359237 * 9.80665 * 0.3048, also: [ft-lb], script: lbf_ft } }
  work: { dimension: mass * length^2 / time^2, distinct_from: [moment], shown: { metric: J, inch: J }, units: { J: { factor: 1, script: J } } }
  temperature:
    dimension: temperature
    point: true
    difference: warming
    lowest: 0
    shown: { metric: °C, inch: °F }
    units: { °C: { factor: 1, shift: 273.15, script: degC }, °F: { factor: 5 / 9, shift: 459.67, script: degF }, K: { factor: 1 } }
  warming: { dimension: temperature, shown: { metric: Δ°C, inch: Δ°F }, units: { Δ°C: { factor: 1, also: [°C, degC], script: degC_diff }, Δ°F: { factor: 5 / 9, script: degF_diff } } }
  share: { dimension: '1', plain: true, shown: { metric: '%', inch: '%' }, units: { '%': { factor: 0.01 }, '1': { factor: 1 } } }
  slope: { dimension: '1', distinct_from: [share], shown: { metric: °, inch: ° }, units: { °: { factor: pi / 180, script: deg } } }
  count: { dimension: '1', plain: true, whole: true, lowest: 0, shown: { metric: '1', inch: '1' }, units: { '1': { factor: 1, also: [pcs] } } }
  price: { dimension: money, shown: { metric: ¤, inch: ¤ }, units: { ¤: { factor: 1, decimals: 2 } } }
  volume:
    dimension: length^3
    shown: { metric: L, inch: US gal }
    units: { L: { factor: 0.001, script: L }, US gal: { factor: 0.001 * 3.785411784 }, imp gal: { factor: 0.001 * 4.54609 } }
    ambiguous: { gal: [US gal, imp gal] }
";

pub fn from_text(text: &str) -> (Units, Problems) {
    let source = Source::new("sample.yaml", text);
    let file = UnitsFile::read(&source).unwrap();
    let mut units = Units::default();
    let problems = units.extend(&[(file, Place::whole(&source))]);
    (units, problems)
}

pub fn sample() -> Units {
    let (units, problems) = from_text(SAMPLE);
    assert!(problems.is_empty(), "{problems:#?}");
    units
}

pub fn quantity(units: &Units, text: &str) -> Quantity {
    match units.read(text, None, None).unwrap_or_else(|fault| panic!("{text}: {fault}")) {
        Value::Quantity(quantity) => quantity,
        Value::Number(number) => Quantity::number(number),
        other => panic!("{text}: {other:?}"),
    }
}
