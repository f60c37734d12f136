//! A sheet's function held against what the sheet declares, before anything runs; and how it would run.

use indexmap::IndexMap;

use super::{Shape, Sheet};
use standpipe_diagnostic::Problems;
use standpipe_quantity::value::Value;
use standpipe_quantity::{UnitFamily, Units};
use standpipe_script::{Declared, Lowered, Promised, Scripts};

impl Sheet {
    /// Everything in its script that can never go together with its inputs and outputs.
    pub fn look(&self, scripts: &Scripts) -> Problems {
        let listed = |list: bool, shape: &Shape| {
            let one = declared(shape);
            if list { Declared::List(Box::new(one)) } else { one }
        };
        let inputs: Vec<_> = self
            .inputs
            .iter()
            .map(|(name, input)| (name.clone(), listed(input.list, &input.shape), input.optional))
            .collect();
        let outputs: Vec<_> = self
            .outputs
            .iter()
            .map(|(name, output)| Promised {
                name: name.clone(),
                what: listed(output.list, &output.shape),
                place: output.place.clone(),
                optional: output.optional,
            })
            .collect();
        scripts.look(&self.plugin, &self.script, &inputs, &outputs, &self.script.place)
    }

    /// The program that calls with these inputs would run. What is not given stands for any value of its kind, and what is
    /// optional is left out.
    pub fn lowered(&self, scripts: &Scripts, given: &IndexMap<String, Value>) -> Option<Lowered> {
        let units = scripts.units();
        let mut inputs = IndexMap::new();
        for (name, input) in &self.inputs {
            let value = match (given.get(name), &input.default) {
                (Some(value), _) => value.clone(),
                (None, Some(default)) => input.shape.fit_listed(input.list, default, name, units).ok()?,
                (None, None) if input.optional => continue,
                (None, None) if input.list => Value::List(vec![any(&input.shape, units)?; 2]),
                (None, None) => any(&input.shape, units)?,
            };
            inputs.insert(name.clone(), value);
        }
        scripts.lower_call(&self.plugin, &self.script, &inputs)
    }
}

fn declared(shape: &Shape) -> Declared {
    match shape {
        Shape::Quantity(of) => Declared::Quantity(of.clone()),
        Shape::Range(of) => Declared::Range(of.clone()),
        Shape::Text(_) | Shape::Date => Declared::Text,
        Shape::Truth => Declared::Truth,
        Shape::Record(parts) => Declared::Record(
            parts.iter().map(|(name, part)| (name.clone(), declared(&part.shape), part.optional)).collect(),
        ),
    }
}

/// Some value of this kind: only the kind counts, and which text it is.
fn any(shape: &Shape, units: &Units) -> Option<Value> {
    let one = |of: &str| units.family(of).map(UnitFamily::one);
    Some(match shape {
        Shape::Quantity(of) if units.family(of)?.plain => Value::Number(1.0),
        Shape::Quantity(of) => Value::Quantity(one(of)?),
        Shape::Range(of) => Value::Range(one(of)?, one(of)?),
        Shape::Text(choices) => Value::Text(choices.first().cloned().unwrap_or_default()),
        Shape::Date => Value::Text("2026-01-01".to_owned()),
        Shape::Truth => Value::Truth(true),
        Shape::Record(parts) => {
            let mut fields = IndexMap::new();
            for (name, part) in parts.iter().filter(|(_, part)| !part.optional) {
                fields.insert(name.clone(), any(&part.shape, units)?);
            }
            Value::Record(fields)
        }
    })
}
